* name: diff_pair
* title: differential pair with tail current
* what: divides the current of its tail by the difference of two inputs
* group: analog
* ports: vss=ground vdd=supply a=input b=input o1=output o2=output vb=bias
* flavours: n p
* alternatives: ota_5t
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt diff_pair vss vdd a b o1 o2 vb
M1 o1 a t vss nmos W=1u L=1u
M2 o2 b t vss nmos W=1u L=1u
MT t vb vss vss nmos W=1u L=1u
.ends
