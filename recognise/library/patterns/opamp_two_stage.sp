* name: opamp_two_stage
* title: two-stage amplifier
* what: a five-transistor amplifier with a common-source stage behind it, as a rule compensated by a capacitor
* group: analog
* ports: vss=ground vdd=supply a=input b=input out=output vb=bias vb2=bias
* optional: CC
* joins: vb=vb2
* flavours: n p
* alternatives: ota_5t
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt opamp_two_stage vss vdd a b out vb vb2
M1 o1 a t vss nmos W=1u L=1u
M2 o2 b t vss nmos W=1u L=1u
MT t vb vss vss nmos W=1u L=1u
M3 o1 o1 vdd vdd pmos W=1u L=1u
M4 o2 o1 vdd vdd pmos W=1u L=1u
M6 out o2 vdd vdd pmos W=1u L=1u
M7 out vb2 vss vss nmos W=1u L=1u
CC o2 out 10f
.ends
