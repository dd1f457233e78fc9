# A second camera on a tracker whose first is still linked; the recorder had the first link in view.
lap-a {"kind":"job","job":"J1","trailer":"5312","tracker":"T1","by":"mara"}
lap-a {"kind":"link","camera":"C1","tracker":"T1","by":"mara"}
lap-b saw lap-a
lap-b {"kind":"link","camera":"C2","tracker":"T1","by":"jonas"}
---
# The links carry no job: the job that names the tracker is the one that is touched.
tracker-with-two-cameras T1 stop aware open jobs=J1 facts=2,3
not camera-on-two-trackers
nothing else
+++
lap-b {"kind":"ruling","finding":"@tracker-with-two-cameras:tracker:T1","ruling":"void","why":"training"}
---
tracker-with-two-cameras T1 stop aware settled
+++
lap-c {"kind":"link","camera":"C3","tracker":"T1","job":"J9"}
---
tracker-with-two-cameras T1 stop aware open jobs=J1,J9 facts=2,3,5
+++
sync lap-b lap-c
lap-b {"kind":"unlink","camera":"C1","tracker":"T1"}
lap-b {"kind":"unlink","camera":"C3","tracker":"T1"}
---
tracker-with-two-cameras T1 stop aware cleared facts=2,3,5
