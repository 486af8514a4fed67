* name: charge_pump_dickson
* title: two stages of a Dickson charge pump
* what: diodes and clocked capacitors that lift a voltage step by step
* group: analog
* ports: in=reference out=output phi1=clock phi2=clock vss=ground vdd=supply
* joins: in=vdd
* flavours: n p
* source: Dickson, IEEE J. Solid-State Circuits 11 (1976) 374 (from memory)
.subckt charge_pump_dickson in out phi1 phi2 vss vdd
M1 in in n1 vss nmos W=1u L=1u
M2 n1 n1 out vss nmos W=1u L=1u
C1 phi1 n1 10f
C2 phi2 out 10f
.ends
