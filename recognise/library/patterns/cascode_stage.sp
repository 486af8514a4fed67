* name: cascode_stage
* title: cascode stage
* what: a common-source stage with a common-gate one on top of it
* group: analog
* ports: vss=ground vdd=supply in=input vb=bias out=output vl=bias
* flavours: n p
* alternatives: common_source tristate_inverter
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt cascode_stage vss vdd in vb out vl
MN x in vss vss nmos W=1u L=1u
MC out vb x vss nmos W=1u L=1u
ML out vl vdd vdd pmos W=1u L=1u
.ends
