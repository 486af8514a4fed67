* name: charge_pump_cross_coupled
* title: cross-coupled voltage doubler
* what: two clocked capacitors whose switches drive each other
* group: analog
* ports: in=reference out=output c=clock cn=clock vss=ground vdd=supply
* joins: in=vdd
* flavours: n p
* alternatives: cross_coupled_inverters
* source: Favrat et al., IEEE J. Solid-State Circuits 33 (1998) 410 (from memory)
.subckt charge_pump_cross_coupled in out c cn vss vdd
M1 in b a vss nmos W=1u L=1u
M2 in a b vss nmos W=1u L=1u
M3 out b a vdd pmos W=1u L=1u
M4 out a b vdd pmos W=1u L=1u
C1 c a 10f
C2 cn b 10f
.ends
