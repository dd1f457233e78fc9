# The job names C1 and T1; linked is C2 to T1, and somebody signs.
lap-a {"kind":"job","job":"J1","trailer":"5312","camera":"C1","tracker":"T1","by":"mara"}
pair lap-a J1 C2 T1
---
not planned-not-linked
+++
lap-a {"kind":"sign-off","job":"J1","by":"mara"}
---
planned-not-linked J1 ask aware open jobs=J1 facts=1,2,4
J1 says it names camera C1, linked is camera C2 to tracker T1
+++
# Near ones: the same code in another spelling; nothing linked, which is another rule's; no part named.
lap-a {"kind":"job","job":"J2","trailer":"5313","camera":"c-3","tracker":"t/3"}
pair lap-a J2 C3 T3
lap-a {"kind":"sign-off","job":"J2"}
lap-a {"kind":"job","job":"J3","trailer":"5314","camera":"C4"}
lap-a {"kind":"sign-off","job":"J3"}
lap-a {"kind":"job","job":"J4","trailer":"5315"}
pair lap-a J4 C5 T5
lap-a {"kind":"sign-off","job":"J4"}
---
not planned-not-linked J2
not planned-not-linked J3
signed-without-link J3 stop - open
not planned-not-linked J4
+++
# Somebody plans another tracker out of the signer's sight: the field is read as the signer had it.
lap-b saw lap-a:13
lap-b {"kind":"job","job":"J4","tracker":"T6"}
---
not planned-not-linked J4
+++
# The job is put right and signed again.
lap-a {"kind":"job","job":"J1","camera":"C2"}
lap-a {"kind":"sign-off","job":"J1","note":"again"}
---
planned-not-linked J1 ask aware cleared
