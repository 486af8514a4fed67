* name: comparator_latched
* title: latched comparator
* what: when its clock rises, a pair at the inputs tips two cross-coupled inverters; else it is precharged
* group: analog
* ports: vss=ground vdd=supply a=input b=input clk=clock o1=output o2=output
* optional: M9 M10
* flavours: n p
* alternatives: sense_amplifier
* source: Kobayashi et al., IEEE J. Solid-State Circuits 28 (1993) 523 (from memory)
.subckt comparator_latched vss vdd a b clk o1 o2
M1 x a t vss nmos W=1u L=1u
M2 y b t vss nmos W=1u L=1u
MT t clk vss vss nmos W=1u L=1u
M3 o1 o2 x vss nmos W=1u L=1u
M4 o2 o1 y vss nmos W=1u L=1u
M5 o1 o2 vdd vdd pmos W=1u L=1u
M6 o2 o1 vdd vdd pmos W=1u L=1u
M7 o1 clk vdd vdd pmos W=1u L=1u
M8 o2 clk vdd vdd pmos W=1u L=1u
M9 x clk vdd vdd pmos W=1u L=1u
M10 y clk vdd vdd pmos W=1u L=1u
.ends
