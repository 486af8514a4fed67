* name: level_shifter
* title: level shifter
* what: a cross-coupled pair on the higher supply, which two transistors tip
* group: analog
* ports: vss=ground vdd=supply in=input inn=input o1=output o2=output
* flavours: n p
* alternatives: sram_6t sense_amplifier
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt level_shifter vss vdd in inn o1 o2
MP1 o1 o2 vdd vdd pmos W=1u L=1u
MP2 o2 o1 vdd vdd pmos W=1u L=1u
MN1 o1 in vss vss nmos W=1u L=1u
MN2 o2 inn vss vss nmos W=1u L=1u
.ends
