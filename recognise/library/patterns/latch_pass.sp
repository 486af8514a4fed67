* name: latch_pass
* title: latch with a pass transistor and weak feedback
* what: takes in its data while the clock is high; the feedback is weaker than what drives it
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock q=output
* flavours: n p
* alternatives: sram_6t
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt latch_pass vdd vss d clk q
MT d clk s vss nmos W=1u L=1u
MN1 q s vss vss nmos W=1u L=1u
MP1 q s vdd vdd pmos W=1u L=1u
MN2 s q vss vss nmos W=1u L=1u
MP2 s q vdd vdd pmos W=1u L=1u
.ends
