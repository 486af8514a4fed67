* name: dram_1t1c
* title: one-transistor memory cell
* what: a switch and a capacitor that keeps the charge
* group: digital
* ports: wl=row bl=column plate=reference vss=ground
* joins: plate=vss
* alternatives: sample_hold pixel_passive
* source: Dennard, US 3,387,286 (from memory)
.subckt dram_1t1c wl bl plate vss
MA bl wl s vss nmos W=1u L=1u
CS s plate 10f
.ends
