"""Rules of PDF/A-3, level A, as far as stock tools can look: read by qpdf, the colour profile by Little CMS.

Usage: pdfa.py FILE.pdf... Says each rule that holds; ends with 1 at the first that does not. Rules are those of ISO 19005-3
(from memory) and ISO 32000-1; no certificate.
"""
import base64
import ctypes
import ctypes.util
import json
import re
import subprocess
import sys


def main(path):
    done = subprocess.run(["qpdf", "--json=2", "--json-stream-data=inline", "--decode-level=all", path],
                          capture_output=True, check=True)
    raw = open(path, "rb").read()
    qpdf = json.loads(done.stdout)["qpdf"]
    objects = qpdf[1]
    rules = 0

    def rule(words, holds):
        nonlocal rules
        if not holds:
            print(f"FAIL {path}: {words}")
            sys.exit(1)
        rules += 1

    def value(ref):
        seen = 0
        while isinstance(ref, str) and re.fullmatch(r"\d+ \d+ R", ref):
            entry = objects["obj:" + ref]
            ref = entry["stream"]["dict"] if "stream" in entry else entry["value"]
            seen += 1
            assert seen < 20
        return ref

    def stream(ref):
        return base64.b64decode(objects["obj:" + ref]["stream"]["data"])

    dicts = []

    def walk(x):
        if isinstance(x, dict):
            dicts.append(x)
            for y in x.values():
                walk(y)
        elif isinstance(x, list):
            for y in x:
                walk(y)
    for entry in objects.values():
        walk(entry["stream"]["dict"] if "stream" in entry else entry["value"])

    trailer = objects["trailer"]["value"]
    root = value(trailer["/Root"])
    rule("begins with %PDF-1.7 and four bytes beyond ASCII", raw.startswith(b"%PDF-1.7\n%") and all(b > 127 for b in raw[10:14]))
    rule("nothing after the last %%EOF", raw.rstrip(b"\n").endswith(b"%%EOF"))
    rule("an identity of two strings", len(trailer["/ID"]) == 2)
    rule("not encrypted", "/Encrypt" not in trailer)
    rule("tagged", value(root["/MarkInfo"]).get("/Marked") is True)
    rule("a language", re.fullmatch(r"u:[A-Za-z-]{2,}", root["/Lang"]))
    for key in ("/JS", "/AA", "/OpenAction", "/XFA", "/NeedsRendering", "/Launch", "/PresSteps"):
        rule(f"no {key}", all(key not in d for d in dicts))
    rule("nothing transparent", all(d.get("/SMask", "/None") == "/None" and d.get("/CA", 1) == 1 and d.get("/ca", 1) == 1 and "/Group" not in d for d in dicts))
    rule("no LZW, no files outside", all("LZW" not in json.dumps(d.get("/Filter", "")) and "/FFilter" not in d for d in dicts))

    # Metadata: as it stands in the file, and the same as in Info.
    xmp = stream(root["/Metadata"])
    rule("metadata is not compressed", xmp in raw and "/Filter" not in value(root["/Metadata"]))
    text = xmp.decode("utf-8")
    rule("metadata names PDF/A-3, level A", "<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>" in text)
    info = value(trailer["/Info"])
    import html
    rule("title as in Info", f">{html.escape(info['/Title'][2:], quote=True).replace('&#x27;', chr(39))}</rdf:li>" in text)
    if "/CreationDate" in info:
        d = re.fullmatch(r"u:D:(\d{4})(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)Z", info["/CreationDate"]).groups()
        rule("date as in Info", f"<xmp:CreateDate>{d[0]}-{d[1]}-{d[2]}T{d[3]}:{d[4]}:{d[5]}Z</xmp:CreateDate>" in text)
    rule("producer as in Info", f"<pdf:Producer>{info['/Producer'][2:]}</pdf:Producer>" in text)

    # Colour.
    intents = [value(i) for i in value(root["/OutputIntents"])]
    rule("one output intent of PDF/A", [i["/S"] for i in intents] == ["/GTS_PDFA1"])
    profile = stream(intents[0]["/DestOutputProfile"])
    rule("a profile of three colours", value(intents[0]["/DestOutputProfile"])["/N"] == 3)
    rule("the profile is as long as it says", int.from_bytes(profile[:4], "big") == len(profile))
    lcms = ctypes.CDLL(ctypes.util.find_library("lcms2"))
    lcms.cmsOpenProfileFromMem.restype = ctypes.c_void_p
    opened = lcms.cmsOpenProfileFromMem(profile, len(profile))
    rule("Little CMS opens the profile", opened)
    lcms.cmsIsMatrixShaper.argtypes = lcms.cmsCloseProfile.argtypes = [ctypes.c_void_p]
    rule("Little CMS finds matrix and curves in it", lcms.cmsIsMatrixShaper(opened) == 1)
    lcms.cmsCreate_sRGBProfile.restype = lcms.cmsCreateTransform.restype = ctypes.c_void_p
    own = lcms.cmsCreate_sRGBProfile()
    rgb8 = (4 << 16) | (3 << 3) | 1
    lcms.cmsCreateTransform.argtypes = [ctypes.c_void_p, ctypes.c_uint32, ctypes.c_void_p, ctypes.c_uint32, ctypes.c_uint32, ctypes.c_uint32]
    lcms.cmsDoTransform.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_uint32]
    turn = lcms.cmsCreateTransform(opened, rgb8, own, rgb8, 1, 0)
    colours = bytes(range(256)) * 3
    out = ctypes.create_string_buffer(len(colours))
    lcms.cmsDoTransform(turn, colours, out, len(colours) // 3)
    rule("its colours are those of Little CMS's own sRGB, to 1 in 255", all(abs(a - b) <= 1 for a, b in zip(colours, out.raw)))
    lcms.cmsCloseProfile(opened)

    # Fonts.
    fonts = [d for d in dicts if d.get("/Type") == "/Font"]
    rule("fonts are there", fonts)
    for f in fonts:
        if f["/Subtype"] == "/Type0":
            rule("a font says which characters its glyphs are", "/ToUnicode" in f)
            rule("its encoding is Identity-H", f["/Encoding"] == "/Identity-H")
        else:
            rule("glyphs are those of the file", f["/CIDToGIDMap"] == "/Identity" or "stream" in objects.get("obj:" + f["/CIDToGIDMap"], {}))
            rule("a font is inside", "/FontFile2" in value(f["/FontDescriptor"]))
            rule("and a subset by its name", re.fullmatch(r"/[A-Z]{6}\+.+", f["/BaseFont"]))

    # Attachments.
    for d in dicts:
        if d.get("/Type") == "/Filespec":
            file = value(d["/EF"])["/F"]
            rule("an attachment says what it is to the paper", d["/AFRelationship"] == "/Source" and "/UF" in d and "/F" in d)
            rule("and of which kind it is", value(file)["/Subtype"].startswith("/application"))
            rule("and stands in the file byte for byte", stream(file) in raw)
    if "/Names" in root:
        rule("the document names its attachments", len(value(root["/AF"])) == 1)

    # Structure: every page, every content, back and forth.
    tree = value(root["/StructTreeRoot"])
    parents = value(tree["/ParentTree"])["/Nums"]
    parents = dict(zip(parents[::2], parents[1::2]))
    pages = []

    def leaves(ref):
        page = value(ref)
        if page["/Type"] == "/Pages":
            for kid in page["/Kids"]:
                leaves(kid)
        else:
            pages.append((ref, page))
    leaves(root["/Pages"])
    content = {}
    kinds = {}

    def element(ref):
        e = value(ref)
        kinds[e["/S"]] = kinds.get(e["/S"], 0) + 1
        if e["/S"] == "/Figure":
            rule("a picture is told in words", len(e.get("/Alt", "u:")) > 12)
        kids = e.get("/K", [])
        for kid in kids if isinstance(kids, list) else [kids]:
            if isinstance(kid, int):
                content[(e["/Pg"], kid)] = ref
                continue
            k = value(kid)
            if k.get("/Type") == "/MCR":
                content[(k["/Pg"], k["/MCID"])] = ref
            elif k.get("/Type") == "/OBJR":
                a = value(k["/Obj"])
                rule("a link is printed and told in words", a["/F"] == 4 and a["/Contents"])
                rule("a link leads somewhere", "/Dest" in a)
                rule("a link hangs where it says", parents[a["/StructParent"]] == ref)
            else:
                rule("a kid knows its parent", k["/P"] == ref)
                element(kid)
    for kid in tree["/K"]:
        element(kid)
    for ref, page in pages:
        rule("a page is read in the order of the structure", page["/Tabs"] == "/S")
        of = value(parents[page["/StructParents"]])
        data = b"\n".join(stream(c) for c in (page["/Contents"] if isinstance(page["/Contents"], list) else [page["/Contents"]]))
        data = re.sub(rb"\((?:\\.|[^\\)])*\)|<[0-9A-Fa-f]*>", b"", data, flags=re.S)
        marked = [int(n) for n in re.findall(rb"/MCID (\d+)", data)]
        rule("content is numbered without gaps", marked == list(range(len(of))))
        rule("every content hangs where the page says", all(content.get((ref, n)) == of[n] for n in marked))
        depth = 0
        for word in re.findall(rb"(?<![\w/])(BDC|BMC|EMC|Tj|TJ|f\*?|S|s|B)(?!\w)", data):
            if word in (b"BDC", b"BMC"):
                rule("content does not stand in content", depth == 0)
                depth += 1
            elif word == b"EMC":
                depth -= 1
            else:
                rule("nothing is drawn that is neither content nor decoration", depth == 1)
        rule("content ends", depth == 0)
    rule("a first heading, and one only", kinds.get("/H1") == 1)
    outline = value(root["/Outlines"]) if "/Outlines" in root else None
    if outline:
        rule("the outline is open at its first level", outline["/Count"] > 0)
    print(f"ok   {path.rsplit('/', 1)[-1]}: {rules} times a rule held; {len(pages)} pages, "
          + ", ".join(f"{n} {k[1:]}" for k, n in sorted(kinds.items())))


for name in sys.argv[1:]:
    main(name)
