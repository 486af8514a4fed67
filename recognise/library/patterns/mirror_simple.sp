* name: mirror_simple
* title: current mirror
* what: copies the current of a transistor whose gate is on its drain
* group: analog
* ports: vss=ground vdd=supply in=input out=output
* shared: MREF
* flavours: n p
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt mirror_simple vss vdd in out
MREF in in vss vss nmos W=1u L=1u
MOUT out in vss vss nmos W=1u L=1u
.ends
