* name: multiplexer_transmission
* title: multiplexer of two transmission gates
* what: passes one of two inputs
* group: digital
* ports: a=input b=input s=clock sn=clock y=output vss=ground vdd=supply
* alternatives: transmission_gate
* source: Weste and Harris, CMOS VLSI Design (from memory)
.subckt multiplexer_transmission a b s sn y vss vdd
M1N a s y vss nmos W=1u L=1u
M1P a sn y vdd pmos W=1u L=1u
M2N b sn y vss nmos W=1u L=1u
M2P b s y vdd pmos W=1u L=1u
.ends
