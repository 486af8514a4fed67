* And-or-invert: Y is low when C is high, or A and B are.
.subckt aoi21 A B C Y VDD VSS
M1 q A VDD VDD pfet W=2u L=0.5u
M2 q B VDD VDD pfet W=2u L=0.5u
M3 Y C q VDD pfet W=2u L=0.5u
M4 Y A m VSS nfet W=1u L=0.5u
M5 m B VSS VSS nfet W=1u L=0.5u
M6 Y C VSS VSS nfet W=1u L=0.5u
.ends
