* An amplifier of two stages: a pair with a mirror as load, a p transistor, and a capacitor that keeps both stable.
.subckt amplifier INP INN BIAS OUT VDD VSS
M1 a INN tail VSS nfet W=10u L=1u
M2 b INP tail VSS nfet W=10u L=1u
M3 a a VDD VDD pfet W=20u L=1u
M4 b a VDD VDD pfet W=20u L=1u
M5 tail BIAS VSS VSS nfet W=8u L=2u
M6 OUT b VDD VDD pfet W=80u L=1u
M7 OUT BIAS VSS VSS nfet W=32u L=2u
C1 b OUT 2p
.ends
