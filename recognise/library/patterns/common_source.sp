* name: common_source
* title: common-source stage
* what: amplifies and inverts; its load is a current source
* group: analog
* ports: vss=ground vdd=supply in=input out=output vb=bias
* flavours: n p
* alternatives: inverter
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt common_source vss vdd in out vb
MN out in vss vss nmos W=1u L=1u
ML out vb vdd vdd pmos W=1u L=1u
.ends
