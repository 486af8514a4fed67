* name: xor_transmission
* title: exclusive-or of an inverter and a transmission gate
* what: output = a exclusive-or b, with b and its inverse at hand
* group: digital
* ports: vdd=supply vss=ground a=input an=input b=input y=output
* alternatives: transmission_gate
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt xor_transmission vdd vss a an b y
MN1 y b an vss nmos W=1u L=1u
MP1 y b a vdd pmos W=1u L=1u
MN2 b an y vss nmos W=1u L=1u
MP2 b a y vdd pmos W=1u L=1u
.ends
