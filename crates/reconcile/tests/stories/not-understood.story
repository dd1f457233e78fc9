# A newer version's facts are kept and reported, on their job or on the device.
lap-a {"kind":"weigh-in","job":"J1","axle":[1,2],"by":"mara"}
lap-a {"kind":"weigh-in","axle":[3]}
lap-a {"kind":"note","text":"known"}
---
not-understood J1 note - open jobs=J1 facts=1
not-understood lap-a note - open jobs= facts=2
J1 says 'weigh-in'
nothing else
+++
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@not-understood:job:J1","ruling":"void","why":"a trial"}
lap-b {"kind":"ruling","finding":"@not-understood:device:lap-a","ruling":"void","why":"a trial"}
---
not-understood J1 note - settled
not-understood lap-a note - settled
+++
lap-a {"kind":"tare","job":"J1"}
---
not-understood J1 note - open facts=1,6
not-understood lap-a note - settled
