* A charge pump of three stages; each clock lifts every other node.
.subckt pump CK CKB OUT VDD VSS
M1 VDD VDD a VSS nfet W=5u L=0.5u
M2 a a b VSS nfet W=5u L=0.5u
M3 b b c VSS nfet W=5u L=0.5u
M4 c c OUT VSS nfet W=5u L=0.5u
C1 a CK 1p
C2 b CKB 1p
C3 c CK 1p
C4 OUT VSS 10p
.ends
