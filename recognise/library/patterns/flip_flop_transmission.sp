* name: flip_flop_transmission
* title: flip-flop of four transmission gates
* what: two latches one after the other, open at opposite levels of the clock
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock clkn=clock q=output
* alternatives: latch_transmission
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt flip_flop_transmission vdd vss d clk clkn q
MT1N d clkn m vss nmos W=1u L=1u
MT1P d clk m vdd pmos W=1u L=1u
MN1 mi m vss vss nmos W=1u L=1u
MP1 mi m vdd vdd pmos W=1u L=1u
MN2 mf mi vss vss nmos W=1u L=1u
MP2 mf mi vdd vdd pmos W=1u L=1u
MF1N mf clk m vss nmos W=1u L=1u
MF1P mf clkn m vdd pmos W=1u L=1u
MT2N mi clk s vss nmos W=1u L=1u
MT2P mi clkn s vdd pmos W=1u L=1u
MN3 q s vss vss nmos W=1u L=1u
MP3 q s vdd vdd pmos W=1u L=1u
MN4 sf q vss vss nmos W=1u L=1u
MP4 sf q vdd vdd pmos W=1u L=1u
MF2N sf clkn s vss nmos W=1u L=1u
MF2P sf clk s vdd pmos W=1u L=1u
.ends
