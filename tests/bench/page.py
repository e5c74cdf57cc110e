"""How fast the page answers on a large register. `page.py PROGRAM [REGISTER SEAL]`

Without a register one of about 100,000 lines is made first (`airwrit demo --days`), which takes minutes. The load comes from
this process, the page is another one. Prints a table and, as the last line, JSON; fails if the slowest percentile of any screen
is over its limit. Memory is the page's own, as the kernel tells it.
"""

import http.client
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import time

LIMIT_MS = 50.0
TIMES = 200


def percentile(all_ms, share):
    return sorted(all_ms)[min(len(all_ms) - 1, int(len(all_ms) * share))]


class Page:
    def __init__(self, address):
        self.host = re.match(r"http://([^/]+)/", address).group(1)
        self.connection = http.client.HTTPConnection(self.host, timeout=120)
        _, headers, _ = self.get(address[len("http://") + len(self.host):])
        self.cookie = headers["set-cookie"].split(";")[0]

    def get(self, path, cookie=None):
        self.connection.request("GET", path, headers={"Cookie": getattr(self, "cookie", "")})
        answer = self.connection.getresponse()
        return answer.status, answer.headers, answer.read()

    def post(self, path, body):
        headers = {"Cookie": self.cookie, "Origin": f"http://{self.host}", "Content-Type": "application/x-www-form-urlencoded"}
        self.connection.request("POST", path, body=body, headers=headers)
        answer = self.connection.getresponse()
        return answer.status, answer.headers, answer.read()

    def timed(self, path, times=TIMES):
        out = []
        for _ in range(times):
            # As many as the page lets in; a person asks for one.
            time.sleep(0.006)
            before = time.perf_counter()
            status, _, _ = self.get(path)
            out.append((time.perf_counter() - before) * 1000)
            assert status in (200, 303), f"{path}: {status}"
        return out


def memory(pid):
    text = pathlib.Path(f"/proc/{pid}/status").read_text()
    return {name: int(re.search(name + r":\s+(\d+)", text).group(1)) // 1024 for name in ("VmRSS", "VmHWM")}


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as work:
        if len(sys.argv) > 3:
            register, seal = sys.argv[2:4]
        else:
            subprocess.run([program, "demo", "--into", f"{work}/year", "--days", "400"], check=True, stdout=subprocess.DEVNULL)
            register, seal = f"{work}/year/register", f"{work}/year/seal"
        lines = sum(p.read_bytes().count(b"\n") for p in pathlib.Path(register).glob("*.jsonl"))
        begun = time.perf_counter()
        served = subprocess.Popen(
            [program, "serve", "--port", "0", "--register", register, "--seal", seal], stdout=subprocess.PIPE, text=True,
            stderr=subprocess.DEVNULL)
        try:
            page = Page(served.stdout.readline().strip())
            opened = time.perf_counter() - begun
            _, _, site = page.get("/?later=1")
            numbers = re.findall(rb"/p/([A-Z0-9]+-\d{6}-\d{2,3})", site)
            last = numbers[0].decode()
            screens = ["/?later=1", "/?later=1&find=tank", "/open", "/board", "/board/live", "/alarm", "/roll-call", "/audit", "/audit?from=0",
                       "/audit?find=countersign", "/audit?find=nothing-like-this", f"/p/{last}", f"/p/{last}/record",
                       f"/p/{last}/walk", f"/p/{last}/sign/close"]
            rows, over = [], []
            print(f"{lines} lines; opened after {opened:.1f} s\n{'screen':<34}{'median ms':>10}{'p99 ms':>10}{'most ms':>10}")
            for path in screens:
                status, _, _ = page.get(path)
                if status not in (200, 303):
                    continue
                ms = page.timed(path)
                row = {"screen": re.sub(r"[A-Z0-9]+-\d{6}-\d{2,3}", "NUMBER", path), "median": percentile(ms, 0.5), "p99": percentile(ms, 0.99), "most": max(ms)}
                rows.append(row)
                print(f"{row['screen']:<34}{row['median']:>10.2f}{row['p99']:>10.2f}{row['most']:>10.2f}")
                if row["p99"] > LIMIT_MS:
                    over.append(row["screen"])
            # The auditor's verdict runs beside the page.
            token = re.search(rb'name="t" value="([0-9a-f]+)"', site).group(1).decode()
            before = time.perf_counter()
            page.post("/audit", f"t={token}")
            first = (time.perf_counter() - before) * 1000
            beside = []
            while b"<progress" in page.get("/audit/live")[2]:
                beside.extend(page.timed("/board/live", 10))
            verdict = time.perf_counter() - before
            if beside:
                row = {"screen": "/board/live while verifying", "median": percentile(beside, 0.5), "p99": percentile(beside, 0.99), "most": max(beside)}
                rows.append(row)
                print(f"{row['screen']:<34}{row['median']:>10.2f}{row['p99']:>10.2f}{row['most']:>10.2f}")
                if row["p99"] > LIMIT_MS:
                    over.append(row["screen"])
            used = memory(served.pid)
            print(f"verdict asked: first answer {first:.1f} ms, whole after {verdict:.1f} s; memory now {used['VmRSS']} MiB, at most {used['VmHWM']} MiB")
            print(json.dumps({"lines": lines, "opened_s": opened, "screens": rows, "verdict_first_ms": first, "verdict_s": verdict,
                              "memory_mib": used, "limit_ms": LIMIT_MS, "over": over}))
            sys.exit(1 if over else 0)
        finally:
            served.kill()
            served.wait()


main()
