* name: supply_clamp_rc
* title: supply clamp with RC trigger
* what: a large transistor that a resistor, a capacitor and an inverter switch on while the supply rises fast
* group: protection
* ports: vdd=supply vss=ground
* source: common practice (from memory)
.subckt supply_clamp_rc vdd vss
R1 vdd x 10k
C1 x vss 10f
MP g x vdd vdd pmos W=1u L=1u
MN g x vss vss nmos W=1u L=1u
MCL vdd g vss vss nmos W=1u L=1u
.ends
