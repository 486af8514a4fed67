* name: mirror_wilson
* title: Wilson current mirror
* what: a mirror with feedback for a higher output resistance
* group: analog
* ports: vss=ground vdd=supply in=input out=output
* flavours: n p
* alternatives: mirror_simple
* source: Wilson, IEEE J. Solid-State Circuits 3 (1968) 341 (from memory)
.subckt mirror_wilson vss vdd in out
M1 in x vss vss nmos W=1u L=1u
M2 x x vss vss nmos W=1u L=1u
M3 out in x vss nmos W=1u L=1u
.ends
