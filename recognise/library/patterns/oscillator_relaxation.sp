* name: oscillator_relaxation
* title: source-coupled relaxation oscillator
* what: a cross-coupled pair charges a capacitor between its sources one way and the other
* group: analog
* ports: vss=ground vdd=supply a=output b=output vb=bias
* flavours: n p
* alternatives: cross_coupled_pair
* source: Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated Circuits (from memory)
.subckt oscillator_relaxation vss vdd a b vb
M1 a b s1 vss nmos W=1u L=1u
M2 b a s2 vss nmos W=1u L=1u
CT s1 s2 10f
MB1 s1 vb vss vss nmos W=1u L=1u
MB2 s2 vb vss vss nmos W=1u L=1u
.ends
