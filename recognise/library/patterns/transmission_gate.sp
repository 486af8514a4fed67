* name: transmission_gate
* title: transmission gate
* what: a switch of an n and a p transistor
* group: digital
* ports: a=any b=any g=clock gn=clock vss=ground vdd=supply
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt transmission_gate a b g gn vss vdd
MN a g b vss nmos W=1u L=1u
MP a gn b vdd pmos W=1u L=1u
.ends
