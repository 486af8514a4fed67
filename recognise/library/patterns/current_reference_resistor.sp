* name: current_reference_resistor
* title: current reference by a resistor
* what: a resistor from the supply into a transistor whose gate is on its drain
* group: analog
* ports: vss=ground vdd=supply in=output
* flavours: n p
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt current_reference_resistor vss vdd in
R1 vdd in 10k
MREF in in vss vss nmos W=1u L=1u
.ends
