* name: current_reference_beta
* title: self-biased current reference (beta multiplier)
* what: two mirrors that feed each other, with a resistor that sets the current
* group: analog
* ports: vss=ground vdd=supply nb=output pb=output
* flavours: n p
* alternatives: mirror_simple
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt current_reference_beta vss vdd nb pb
M1 nb nb vss vss nmos W=1u L=1u
M2 pb nb r vss nmos W=1u L=1u
R1 r vss 10k
M3 nb pb vdd vdd pmos W=1u L=1u
M4 pb pb vdd vdd pmos W=1u L=1u
.ends
