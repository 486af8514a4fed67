* name: pad_resistor_clamp
* title: pad resistor with clamp
* what: a resistor and a transistor that is off between a pad and the gates behind it
* group: protection
* ports: pad=input in=output vss=ground vdd=supply
* flavours: n p
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt pad_resistor_clamp pad in vss vdd
R1 pad in 10k
MN in vss vss vss nmos W=1u L=1u
.ends
