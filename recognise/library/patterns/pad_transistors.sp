* name: pad_transistors
* title: pad protection by two transistors
* what: transistors that are off, whose junctions and breakdown protect a pad
* group: protection
* ports: pad=input vdd=supply vss=ground
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt pad_transistors pad vdd vss
MN pad vss vss vss nmos W=1u L=1u
MP pad vdd vdd vdd pmos W=1u L=1u
.ends
