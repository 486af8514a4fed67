* name: tristate_output
* title: tristate output stage
* what: an output whose two transistors are driven apart, and both switched off to leave it alone
* group: digital
* ports: vdd=supply vss=ground a=input en=clock enn=clock y=output
* alternatives: tristate_inverter
* source: Weste and Harris, CMOS VLSI Design (from memory): tristate pads, NAND and NOR of the two drivers merged into one stage; common practice
* source: for output drivers; it was looked for after a published cell had been taken for something else, and its topology is the textbook's
.subckt tristate_output vdd vss a en enn y
MPO y gp vdd vdd pmos W=1u L=1u
MNO y gn vss vss nmos W=1u L=1u
MPI gp a vdd vdd pmos W=1u L=1u
MNI gn a vss vss nmos W=1u L=1u
MPT gp enn gn vdd pmos W=1u L=1u
MNT gp en gn vss nmos W=1u L=1u
MPE gp en vdd vdd pmos W=1u L=1u
MNE gn enn vss vss nmos W=1u L=1u
.ends
