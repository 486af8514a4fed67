* name: mirror_cascode
* title: cascode current mirror
* what: a mirror with a second one on top of it, for a higher output resistance
* group: analog
* ports: vss=ground vdd=supply in=input n1=bias out=output
* shared: M1 M3
* flavours: n p
* alternatives: mirror_simple
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt mirror_cascode vss vdd in n1 out
M1 n1 n1 vss vss nmos W=1u L=1u
M2 m n1 vss vss nmos W=1u L=1u
M3 in in n1 vss nmos W=1u L=1u
M4 out in m vss nmos W=1u L=1u
.ends
