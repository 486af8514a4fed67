* name: tristate_inverter
* title: tristate (clocked) inverter
* what: inverts while it is enabled, else leaves its output alone
* group: digital
* ports: vdd=supply vss=ground a=input en=clock enn=clock y=output
* series: free
* alternatives: ring_starved_3
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt tristate_inverter vdd vss a en enn y
MN1 y en m vss nmos W=1u L=1u
MN2 m a vss vss nmos W=1u L=1u
MP1 y enn w vdd pmos W=1u L=1u
MP2 w a vdd vdd pmos W=1u L=1u
.ends
