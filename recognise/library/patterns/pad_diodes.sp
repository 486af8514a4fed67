* name: pad_diodes
* title: pad protection by two diodes
* what: leads what is above the supply or below ground away from a pad
* group: protection
* ports: pad=input vdd=supply vss=ground
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt pad_diodes pad vdd vss
DUP pad vdd diode
DDN vss pad diode
.ends
