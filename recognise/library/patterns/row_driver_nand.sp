* name: row_driver_nand
* title: decoding row driver
* what: a NAND and an inverter that drive a row of pixels
* group: row
* ports: vdd=supply vss=ground a=input b=input row=row col=column pd=sense vpix=supply
* context: MSEL MSF
* joins: vpix=vdd
* flavours: n p
* series: free
* source: common practice
.subckt row_driver_nand vdd vss a b row col pd vpix
MP1 y a vdd vdd pmos W=1u L=1u
MP2 y b vdd vdd pmos W=1u L=1u
MN1 y a m vss nmos W=1u L=1u
MN2 m b vss vss nmos W=1u L=1u
MP3 row y vdd vdd pmos W=1u L=1u
MN3 row y vss vss nmos W=1u L=1u
MSEL x row col vss nmos W=1u L=1u
MSF vpix pd x vss nmos W=1u L=1u
.ends
