* name: ring_starved_3
* title: current-starved ring oscillator of three
* what: three inverters in a circle, with transistors that limit their current
* group: analog
* ports: vss=ground vdd=supply vp=bias vn=bias o1=output o2=output o3=output
* flavours: n p
* alternatives: tristate_inverter
* source: Weste and Harris, CMOS VLSI Design (from memory); common practice
.subckt ring_starved_3 vss vdd vp vn o1 o2 o3
MPS1 x1 vp vdd vdd pmos W=1u L=1u
MP1 o1 o3 x1 vdd pmos W=1u L=1u
MN1 o1 o3 y1 vss nmos W=1u L=1u
MNS1 y1 vn vss vss nmos W=1u L=1u
MPS2 x2 vp vdd vdd pmos W=1u L=1u
MP2 o2 o1 x2 vdd pmos W=1u L=1u
MN2 o2 o1 y2 vss nmos W=1u L=1u
MNS2 y2 vn vss vss nmos W=1u L=1u
MPS3 x3 vp vdd vdd pmos W=1u L=1u
MP3 o3 o2 x3 vdd pmos W=1u L=1u
MN3 o3 o2 y3 vss nmos W=1u L=1u
MNS3 y3 vn vss vss nmos W=1u L=1u
.ends
