* A current mirror of four, the second pair as cascodes.
.subckt mirror IREF OUT VSS
M1 IREF IREF a VSS nfet W=4u L=1u
M2 OUT IREF b VSS nfet W=4u L=1u
M3 a a VSS VSS nfet W=4u L=1u
M4 b a VSS VSS nfet W=4u L=1u
.ends
