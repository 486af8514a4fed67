* name: charge_pump_switched
* title: charge pump of a phase-locked loop
* what: two switched current sources that lift or lower a level
* group: analog
* ports: vss=ground vdd=supply up=clock dn=clock vp=bias vn=bias out=output
* flavours: n p
* series: free
* alternatives: tristate_inverter
* source: Razavi, Design of Analog CMOS Integrated Circuits (from memory)
.subckt charge_pump_switched vss vdd up dn vp vn out
MSP x vp vdd vdd pmos W=1u L=1u
MUP out up x vdd pmos W=1u L=1u
MDN out dn y vss nmos W=1u L=1u
MSN y vn vss vss nmos W=1u L=1u
.ends
