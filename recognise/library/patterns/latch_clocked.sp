* name: latch_clocked
* title: latch of a transmission gate and a clocked inverter
* what: takes in its data while the gate is open, keeps it through the clocked inverter
* group: digital
* ports: vdd=supply vss=ground d=input clk=clock clkn=clock q=output
* series: free
* alternatives: latch_transmission
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt latch_clocked vdd vss d clk clkn q
MTN d clk s vss nmos W=1u L=1u
MTP d clkn s vdd pmos W=1u L=1u
MN1 q s vss vss nmos W=1u L=1u
MP1 q s vdd vdd pmos W=1u L=1u
MN2 s clkn fn vss nmos W=1u L=1u
MN3 fn q vss vss nmos W=1u L=1u
MP2 s clk fp vdd pmos W=1u L=1u
MP3 fp q vdd vdd pmos W=1u L=1u
.ends
