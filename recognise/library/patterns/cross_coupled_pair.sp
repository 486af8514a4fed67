* name: cross_coupled_pair
* title: cross-coupled pair
* what: two transistors each with its gate on the other's drain: negative resistance or positive feedback
* group: analog
* ports: vss=ground vdd=supply a=sense b=sense
* flavours: n p
* alternatives: cross_coupled_inverters level_shifter
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt cross_coupled_pair vss vdd a b
M1 a b vss vss nmos W=1u L=1u
M2 b a vss vss nmos W=1u L=1u
.ends
