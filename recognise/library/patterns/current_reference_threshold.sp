* name: current_reference_threshold
* title: threshold-referenced current source
* what: a resistor across gate and source of one transistor sets the current of another
* group: analog
* ports: vss=ground vdd=supply g=input out=output
* flavours: n p
* alternatives: mirror_wilson
* source: Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated Circuits (from memory)
.subckt current_reference_threshold vss vdd g out
M1 g r vss vss nmos W=1u L=1u
M2 out g r vss nmos W=1u L=1u
R1 r vss 10k
.ends
