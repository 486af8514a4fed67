* name: flip_flop_c2mos
* title: dynamic flip-flop of two clocked inverters (C2MOS)
* what: keeps its data on two nodes by their capacitance
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock clkn=clock q=output
* series: free
* alternatives: tristate_inverter
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt flip_flop_c2mos vdd vss d clk clkn q
MN1 m clkn a vss nmos W=1u L=1u
MN2 a d vss vss nmos W=1u L=1u
MP1 m clk b vdd pmos W=1u L=1u
MP2 b d vdd vdd pmos W=1u L=1u
MN3 q clk e vss nmos W=1u L=1u
MN4 e m vss vss nmos W=1u L=1u
MP3 q clkn f vdd pmos W=1u L=1u
MP4 f m vdd vdd pmos W=1u L=1u
.ends
