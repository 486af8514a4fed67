* The pixel as it was drawn, written down by hand from the list of shapes in pixel.go; no program made it.
* Photodiode: the part of its diffusion below the reset transistor's strip, 4.0 um x 3.8 um, and the perimeter of that.
.subckt pixel RST SEL VDD COL VSS
MRST VDD RST PD  VSS nfet W=1.0u L=0.6u
MSF  VDD PD  MID VSS nfet W=1.6u L=0.8u
MSEL MID SEL COL VSS nfet W=1.2u L=0.5u
DPD  VSS PD photodiode AREA=15.2p PJ=15.6u
.ends pixel
