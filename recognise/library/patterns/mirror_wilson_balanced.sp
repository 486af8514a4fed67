* name: mirror_wilson_balanced
* title: balanced Wilson current mirror
* what: a Wilson mirror with a fourth transistor that makes both sides alike
* group: analog
* ports: vss=ground vdd=supply in=input out=output
* flavours: n p
* alternatives: mirror_wilson
* source: Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated Circuits (from memory)
.subckt mirror_wilson_balanced vss vdd in out
M1 y x vss vss nmos W=1u L=1u
M2 x x vss vss nmos W=1u L=1u
M3 out in x vss nmos W=1u L=1u
M4 in in y vss nmos W=1u L=1u
.ends
