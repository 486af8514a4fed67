* name: common_gate
* title: common-gate stage
* what: takes a current at a low resistance and gives it on at a high one
* group: analog
* ports: vss=ground vdd=supply vb=bias in=input out=output vl=bias vi=bias
* joins: vb=vi
* flavours: n p
* alternatives: cascode_stage
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt common_gate vss vdd vb in out vl vi
MCG out vb in vss nmos W=1u L=1u
ML out vl vdd vdd pmos W=1u L=1u
MI in vi vss vss nmos W=1u L=1u
.ends
