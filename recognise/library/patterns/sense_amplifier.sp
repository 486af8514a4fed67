* name: sense_amplifier
* title: latch-type sense amplifier
* what: cross-coupled inverters with a tail that is switched on to let them tip
* group: analog
* ports: vss=ground vdd=supply o1=sense o2=sense en=clock
* flavours: n p
* alternatives: comparator_latched cross_coupled_inverters
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt sense_amplifier vss vdd o1 o2 en
M1 o1 o2 t vss nmos W=1u L=1u
M2 o2 o1 t vss nmos W=1u L=1u
MT t en vss vss nmos W=1u L=1u
M3 o1 o2 vdd vdd pmos W=1u L=1u
M4 o2 o1 vdd vdd pmos W=1u L=1u
.ends
