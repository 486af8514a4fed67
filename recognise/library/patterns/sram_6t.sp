* name: sram_6t
* title: six-transistor memory cell
* what: two cross-coupled inverters with a switch to each bit line
* group: digital
* ports: vdd=supply vss=ground wl=row bl=column bln=column
* alternatives: cross_coupled_inverters sram_8t
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt sram_6t vdd vss wl bl bln
MN1 q qn vss vss nmos W=1u L=1u
MP1 q qn vdd vdd pmos W=1u L=1u
MN2 qn q vss vss nmos W=1u L=1u
MP2 qn q vdd vdd pmos W=1u L=1u
MA1 bl wl q vss nmos W=1u L=1u
MA2 bln wl qn vss nmos W=1u L=1u
.ends
