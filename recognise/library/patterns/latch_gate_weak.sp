* name: latch_gate_weak
* title: latch with a transmission gate and weak feedback
* what: takes in its data while the gate is open; the feedback is weaker than what drives it
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock clkn=clock q=output
* alternatives: latch_transmission
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt latch_gate_weak vdd vss d clk clkn q
MTN d clk s vss nmos W=1u L=1u
MTP d clkn s vdd pmos W=1u L=1u
MN1 q s vss vss nmos W=1u L=1u
MP1 q s vdd vdd pmos W=1u L=1u
MN2 s q vss vss nmos W=1u L=1u
MP2 s q vdd vdd pmos W=1u L=1u
.ends
