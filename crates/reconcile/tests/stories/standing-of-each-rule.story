# Trailer opened twice: by crews that could not know, then with the other job in view.
lap-a {"kind":"job","job":"J1","trailer":"5312","by":"mara"}
lap-b {"kind":"job","job":"J2","trailer":"5312","by":"jonas"}
lap-c saw lap-b
lap-c {"kind":"note","text":"row 2"}
wait 9
lap-c {"kind":"job","job":"J3","trailer":"5399","by":"tomas"}
---
trailer-opened-twice 5312 ask unaware open facts=1,2
5312 says neither device had seen the other's job.
+++
# The job was opened for another trailer; the mistake came with the correction, which had seen the other job.
lap-c {"kind":"job","job":"J3","trailer":"5312","by":"tomas"}
---
trailer-opened-twice 5312 ask aware open jobs=J1,J2,J3
5312 says lap-c had held the entry for job J2 for at least 10 minutes by its own clock.
+++
# A field: values that disagree are never known to each other.
lap-a {"kind":"job","job":"J4","wall":"plate","by":"mara"}
lap-b {"kind":"job","job":"J4","wall":"sheet-and-post","by":"jonas"}
---
fields-disagree J4 ask unaware open facts=6,7
J4 says wall is plate by mara on lap-a (2026-03-02 08:15) and sheet-and-post by jonas on lap-b (2026-03-02 08:16); neither device had seen the other's value.
+++
# The stock list was there when the camera was linked.
depot {"kind":"stock","camera":"C5","fleet":"Harrow Haulage"}
depot {"kind":"stock","tracker":"T5","fleet":"Larkspur Freight"}
lap-a saw depot
lap-a {"kind":"job","job":"J5","trailer":"5405","fleet":"Larkspur Freight"}
wait 11
lap-a {"kind":"link","job":"J5","camera":"C5","tracker":"T5","by":"mara"}
---
wrong-fleet J5 stop aware open facts=8,10,11
J5 says lap-a had held the stock entry of C5 for at least 12 minutes by its own clock.
+++
# The stock list came later, from somebody who saw the link and the job's fleet.
lap-b {"kind":"job","job":"J6","trailer":"5406","fleet":"Larkspur Freight"}
lap-b {"kind":"link","job":"J6","camera":"C6","tracker":"T6","by":"jonas"}
depot saw lap-b
depot {"kind":"stock","camera":"C6","fleet":"Harrow Haulage"}
---
wrong-fleet J6 stop aware open facts=12,13,14
J6 says depot had the link of C6 to T6 in view.
+++
# The linker had the stock list, but the job's fleet was set elsewhere: nobody had all three.
depot {"kind":"stock","camera":"C7","fleet":"Harrow Haulage"}
lap-c {"kind":"job","job":"J7","trailer":"5407"}
lap-b saw depot
lap-b saw lap-c
lap-b {"kind":"link","job":"J7","camera":"C7","tracker":"T7"}
lap-c {"kind":"job","job":"J7","fleet":"Larkspur Freight"}
---
wrong-fleet J7 stop unaware open facts=15,17,18
J7 says lap-b had not seen the entry for job J7, nor lap-c the link of C7 to T7.
+++
# A code one edit from the stock list, which the reader had.
lap-a saw depot
lap-a {"kind":"scan","what":"tracker","code":"T55","job":"J8"}
---
code-suspect T55 ask aware open facts=9,19
T55 says lap-a had held the stock entry of T5 for at least
+++
# A picture that was judged bad, in view of the signer; one judged good, but after the sign-off, changes nothing of that.
lap-a {"kind":"proof","job":"J9","state":"judged","ok":false}
lap-a {"kind":"sign-off","job":"J9"}
---
signed-without-proof J9 stop aware open facts=20,21
J9 says lap-a itself had recorded the judgement of the picture of J9, 1 minute before by its own clock.
+++
lap-b saw lap-a
lap-b {"kind":"proof","job":"J9","state":"judged","ok":true,"answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
signed-without-proof J9 stop aware open facts=20,21
J9 says lap-a itself had recorded the judgement of the picture of J9, 1 minute before by its own clock.
+++
# A pilot hole that whoever stood the job down did not know of, and one that he did.
lap-a {"kind":"check","job":"J10","check":"pilot-hole","ok":true}
lap-b {"kind":"stand-down","job":"J10","why":"trailer left"}
lap-a {"kind":"check","job":"J11","check":"pilot-hole","ok":true}
lap-b saw lap-a
lap-b {"kind":"stand-down","job":"J11","why":"trailer left"}
---
pilot-hole-left-open J10 stop unaware open facts=23,24
pilot-hole-left-open J11 stop aware open facts=25,26
J10 says lap-a had not seen the stand-down of J10, nor lap-b the check pilot-hole of J10;
J11 says lap-b had the check pilot-hole of J11 in view;
+++
# Cut without the blocking reading at hand: it was made elsewhere, earlier by the server's clock.
lap-a {"kind":"job","job":"J12","trailer":"5412","wall":"plate","load":"loaded"}
lap-b saw lap-a
lap-b {"kind":"check","job":"J12","check":"first-probe","value":"1/4 in","clock":"reference","at":"2026-03-02T12:00:00Z","by":"jonas"}
lap-a {"kind":"check","job":"J12","check":"hole-cut","ok":true,"clock":"reference","at":"2026-03-02T12:30:00Z","by":"mara"}
---
cut-without-clearance J12 stop unaware open
J12 says lap-a had not seen the check first-probe of J12, nor lap-b the check hole-cut of J12.
+++
# Cut although the reading in view was a blocking one.
lap-a {"kind":"job","job":"J16","wall":"plate","load":"loaded"}
lap-a {"kind":"check","job":"J16","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J16","check":"first-probe","value":"1/4 in"}
wait 4
lap-a {"kind":"check","job":"J16","check":"hole-cut","ok":true}
---
cut-without-clearance J16 stop aware open
J16 says lap-a itself had recorded the check first-probe of J16, 5 minutes before by its own clock.
+++
# That the trailer was loaded came out afterwards, from somebody who saw the cut. A field of the job is no side.
lap-a {"kind":"check","job":"J13","check":"hole-cut","ok":true}
lap-b saw lap-a
lap-b {"kind":"job","job":"J13","load":"loaded"}
---
cut-without-clearance J13 stop - open facts=34,35
+++
# Or from somebody who did not.
lap-a {"kind":"check","job":"J14","check":"hole-cut","ok":true}
lap-b {"kind":"job","job":"J14","load":"loaded"}
---
cut-without-clearance J14 stop - open facts=36,37
+++
# A failed check that happened before the sign-off only by the clock.
lap-a {"kind":"sign-off","job":"J15","clock":"reference","at":"2026-03-02T13:00:00Z"}
lap-b {"kind":"check","job":"J15","check":"doors-closed","ok":false,"clock":"reference","at":"2026-03-02T12:50:00Z"}
---
check-failed J15 stop unaware open facts=38,39
J15 says lap-a had not seen the check doors-closed of J15, nor lap-b the sign-off of J15.
