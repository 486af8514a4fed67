* name: latch_transmission
* title: latch of two transmission gates
* what: takes in its data while the first gate is open, keeps it through the second
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock clkn=clock q=output
* alternatives: flip_flop_transmission
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt latch_transmission vdd vss d clk clkn q
MTN d clk s vss nmos W=1u L=1u
MTP d clkn s vdd pmos W=1u L=1u
MN1 q s vss vss nmos W=1u L=1u
MP1 q s vdd vdd pmos W=1u L=1u
MN2 f q vss vss nmos W=1u L=1u
MP2 f q vdd vdd pmos W=1u L=1u
MFN f clkn s vss nmos W=1u L=1u
MFP f clk s vdd pmos W=1u L=1u
.ends
