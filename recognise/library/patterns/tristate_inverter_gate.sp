* name: tristate_inverter_gate
* title: inverter with transmission gate
* what: inverts while its gate is open; the inverter drives nothing else
* group: digital
* ports: vdd=supply vss=ground a=input en=clock enn=clock y=output
* alternatives: tristate_inverter transmission_gate
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt tristate_inverter_gate vdd vss a en enn y
MN1 x a vss vss nmos W=1u L=1u
MP1 x a vdd vdd pmos W=1u L=1u
MN2 x en y vss nmos W=1u L=1u
MP2 x enn y vdd pmos W=1u L=1u
.ends
