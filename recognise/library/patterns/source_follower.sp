* name: source_follower
* title: source follower with current source
* what: the output follows the input, a threshold below
* group: analog
* ports: vss=ground vdd=supply in=input out=output vb=bias
* flavours: n p
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt source_follower vss vdd in out vb
MSF vdd in out vss nmos W=1u L=1u
ML out vb vss vss nmos W=1u L=1u
.ends
