* name: column_amplifier
* title: switched-capacitor column amplifier
* what: amplifies by the ratio of two capacitors
* group: column
* ports: vdd=supply vss=ground vb=bias in=column rst=reset out=output
* either: MRST
* flavours: n p
* alternatives: pixel_ctia
* source: US 7,199,828 for the feedback capacitor; common practice
.subckt column_amplifier vdd vss vb in rst out
CIN in g 10f
CF g out 10f
MRST g rst out vss nmos W=1u L=1u
MN out g vss vss nmos W=1u L=1u
MLOAD out vb vdd vdd pmos W=1u L=1u
.ends
