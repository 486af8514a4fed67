* name: sram_8t
* title: eight-transistor memory cell
* what: a six-transistor cell with two more transistors that read it without touching it
* group: digital
* ports: vdd=supply vss=ground wl=row bl=column bln=column rwl=row rbl=column
* alternatives: sram_6t
* source: Chang et al., Symposium on VLSI Technology 2005 (from memory)
.subckt sram_8t vdd vss wl bl bln rwl rbl
MN1 q qn vss vss nmos W=1u L=1u
MP1 q qn vdd vdd pmos W=1u L=1u
MN2 qn q vss vss nmos W=1u L=1u
MP2 qn q vdd vdd pmos W=1u L=1u
MA1 bl wl q vss nmos W=1u L=1u
MA2 bln wl qn vss nmos W=1u L=1u
MR1 r qn vss vss nmos W=1u L=1u
MR2 rbl rwl r vss nmos W=1u L=1u
.ends
