# The worked example of 49 CFR 565.15 (the VIN check digit), and the same with a slip.
lap-a {"kind":"job","job":"J1","trailer":"5312","vin":"1G4AH59H45G118341"}
---
nothing else
+++
lap-a {"kind":"job","job":"J2","trailer":"5313","vin":"1G4AH59H45G118314","by":"mara"}
---
code-suspect 1G4AH59H45G118314 ask - open jobs=J2 facts=2
nothing else
+++
lap-a {"kind":"job","job":"J2","vin":"1G4AH59H45G118341"}
---
code-suspect 1G4AH59H45G118314 ask - cleared facts=2
nothing else
