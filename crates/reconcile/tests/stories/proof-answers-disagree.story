# Judged good with an answer no and one missing.
lap-a {"kind":"proof","job":"J1","state":"judged","picture":"blake3:5555555555555555555555555555555555555555555555555555555555555555","ok":true,"by":"mara","answers":{"front-wall-seen":true,"door-frame-seen":false,"lens-clear":true}}
---
proof-answers-disagree J1 stop - open jobs=J1 facts=1
J1 says door-frame-seen was answered no and no-jagged-edge was not answered
nothing else
+++
lap-b saw lap-a
lap-b {"kind":"ruling","finding":"@proof-answers-disagree:job:J1","ruling":"accepted","why":"frame is bent, seen anyway"}
---
proof-answers-disagree J1 stop - settled
+++
lap-c {"kind":"proof","job":"J1","state":"judged","ok":true,"by":"tomas"}
---
proof-answers-disagree J1 stop - open facts=1,3
+++
# A sound judgement by one who saw the first; the third is still torn.
lap-b {"kind":"proof","job":"J1","state":"judged","ok":false,"by":"jonas","answers":{"door-frame-seen":false}}
---
proof-answers-disagree J1 stop - open facts=3
+++
lap-c saw lap-b
lap-c {"kind":"proof","job":"J1","state":"judged","ok":true,"by":"tomas","answers":{"front-wall-seen":true,"door-frame-seen":true,"no-jagged-edge":true,"lens-clear":true}}
---
proof-answers-disagree J1 stop - cleared facts=1,3
+++
# Not judged good: an answer no is just that.
lap-a {"kind":"proof","job":"J2","state":"judged","ok":false,"answers":{"lens-clear":false}}
lap-a {"kind":"proof","job":"J2","state":"judged","answers":{"lens-clear":true}}
---
not proof-answers-disagree J2
