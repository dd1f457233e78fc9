# One clock: the settings were entered late, but with the time of the server that both times come from.
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1","clock":"reference","at":"2026-03-02T10:00:00Z"}
lap-a {"kind":"sign-off","job":"J1","clock":"reference","at":"2026-03-02T10:30:00Z"}
lap-b {"kind":"settings","tracker":"T1","state":"live","clock":"reference","at":"2026-03-02T10:20:00Z"}
---
signed-before-live J1 stop - cleared
+++
# The same, certainly later than the sign-off by the same clock.
lap-a {"kind":"link","job":"J2","camera":"C2","tracker":"T2","clock":"reference","at":"2026-03-02T10:00:00Z"}
lap-a {"kind":"sign-off","job":"J2","clock":"reference","at":"2026-03-02T10:30:00Z"}
lap-b {"kind":"settings","tracker":"T2","state":"live","clock":"reference","at":"2026-03-02T10:31:00Z"}
---
signed-before-live J2 stop unaware open facts=4,5
signed-before-live J1 stop - cleared
+++
# Live for the camera that hung there before: says nothing about this one.
lap-a {"kind":"link","job":"J3","camera":"C3","tracker":"T3"}
lap-a {"kind":"settings","tracker":"T3","camera":"C0","state":"live"}
lap-a {"kind":"sign-off","job":"J3"}
---
signed-before-live J3 stop - open facts=7,9
+++
# Live before the link: the tracker's settings of the camera before.
lap-a {"kind":"settings","tracker":"T4","state":"live"}
lap-a {"kind":"link","job":"J4","camera":"C4","tracker":"T4"}
lap-a {"kind":"sign-off","job":"J4"}
---
signed-before-live J4 stop aware open facts=11,12
+++
# Recorded after the sign-off by somebody who had it in view, with an earlier time of the device's clock: that is a claim, and the
# sign-off is not right because of it.
lap-a {"kind":"link","job":"J5","camera":"C5","tracker":"T5","at":"2026-03-02T11:00:00Z"}
lap-a {"kind":"sign-off","job":"J5","at":"2026-03-02T11:30:00Z"}
lap-a {"kind":"settings","tracker":"T5","state":"live","at":"2026-03-02T11:20:00Z"}
---
signed-before-live J5 ask aware open
J5 says recorded live by somebody on lap-a (2026-03-02 11:20)
+++
# Recorded live on another laptop that had the sign-off in view: its clock cannot be compared, but it came after.
lap-a {"kind":"link","job":"J6","camera":"C6","tracker":"T6"}
lap-a {"kind":"sign-off","job":"J6"}
lap-b saw lap-a
lap-b {"kind":"settings","tracker":"T6","state":"live"}
---
signed-before-live J6 stop aware open facts=16,17
+++
# "By the server's clock", but nobody wrote down a time: what the laptops filled in is their own.
lap-a {"kind":"link","job":"J7","camera":"C7","tracker":"T7","clock":"reference"}
lap-b saw lap-a
lap-a {"kind":"sign-off","job":"J7","clock":"reference"}
lap-b {"kind":"settings","tracker":"T7","state":"live","clock":"reference"}
---
signed-before-live J7 ask unaware open facts=19,20
