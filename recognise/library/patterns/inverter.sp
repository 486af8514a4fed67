* name: inverter
* title: inverter
* what: output = not input
* group: digital
* ports: vdd=supply vss=ground a=input y=output
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt inverter vdd vss a y
MN1 y a vss vss nmos W=1u L=1u
MP2 y a vdd vdd pmos W=1u L=1u
.ends
