* name: ota_5t
* title: five-transistor amplifier
* what: a differential pair with a mirror as load
* group: analog
* ports: vss=ground vdd=supply a=input b=input out=output vb=bias
* flavours: n p
* alternatives: diff_pair opamp_two_stage
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt ota_5t vss vdd a b out vb
M1 o1 a t vss nmos W=1u L=1u
M2 out b t vss nmos W=1u L=1u
MT t vb vss vss nmos W=1u L=1u
M3 o1 o1 vdd vdd pmos W=1u L=1u
M4 out o1 vdd vdd pmos W=1u L=1u
.ends
