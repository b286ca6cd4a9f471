using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Tests.Intake;
using Grpc.Core;

namespace Cardassay.Collector.Tests.Live;

/// <summary>The page beyond this machine: over TLS, with a link that can be taken back, and nothing else behind that door.</summary>
public sealed class ReadersTests : IAsyncLifetime
{
    private readonly StringWriter _log = new();
    private CollectorFixture _collector = null!;
    private string _fingerprint = "";

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync(beyond: true, log: TextWriter.Synchronized(_log));

    private string Address => $"127.0.0.1:{_collector.Page.Split(':')[^1]}";

    [Fact]
    public async Task Page_WithoutALinkOrWithAWrongOne_IsRefusedEverywhere()
    {
        V1.ReaderLink link = await InviteAsync("kitchen");
        string nearly = link.Link[..^1] + (link.Link[^1] == 'A' ? 'B' : 'A');
        using HttpClient http = Client();
        foreach (string path in (string[])["/", "/events", "/report", "/report?format=json", "/card?name=T-01", "/live.css", "/live.js", "/favicon.ico", "/?key=", "/?key=" + new string('A', 43), nearly[nearly.IndexOf("/?", StringComparison.Ordinal)..]])
        {
            using HttpResponseMessage answer = await http.GetAsync(path);
            Assert.Equal((path, HttpStatusCode.Forbidden), (path, answer.StatusCode));
            Assert.DoesNotContain("Boards", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
            Assert.False(answer.Headers.Contains("Set-Cookie"));
        }

        using HttpResponseMessage forged = await http.SendAsync(new HttpRequestMessage(HttpMethod.Get, "/report") { Headers = { { "Cookie", $"{ReaderGate.Cookie}=x" } } });
        Assert.Equal(HttpStatusCode.Forbidden, forged.StatusCode);
    }

    [Fact]
    public async Task Page_WithALink_SetsACookieOnceAndIsReadWithIt()
    {
        V1.ReaderLink link = await InviteAsync("kitchen");
        Assert.Matches(@"^https://127\.0\.0\.1:\d+/\?key=[A-Za-z0-9_-]{43}$", link.Link);
        using HttpClient http = Client();
        using HttpResponseMessage first = await http.GetAsync(link.Link);
        Assert.Equal((HttpStatusCode.SeeOther, "/"), (first.StatusCode, first.Headers.Location?.ToString()));
        string cookie = Assert.Single(first.Headers.GetValues("Set-Cookie"));
        Assert.All((string[])["; path=/", "; secure", "; samesite=strict", "; httponly"], part => Assert.Contains(part, cookie, StringComparison.OrdinalIgnoreCase));
        Assert.StartsWith("__Host-", cookie, StringComparison.Ordinal);
        Assert.DoesNotContain("domain=", cookie, StringComparison.OrdinalIgnoreCase);
        Assert.Equal("no-referrer", Assert.Single(first.Headers.GetValues("Referrer-Policy")));

        using HttpResponseMessage page = await http.SendAsync(With(cookie, "/"));
        Assert.Contains("The bench right now", await page.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        using HttpResponseMessage report = await http.SendAsync(With(cookie, "/report"));
        Assert.Equal(HttpStatusCode.OK, report.StatusCode);
        Assert.Equal(link.CertificateSha256, _fingerprint);

        // What else there is stays behind the doors it has, for a reader too.
        foreach (string path in (string[])["/cardassay.v1.Operator/GetStatus", "/cardassay.v1.Delivery/Deliver", "/nothing"])
        {
            using HttpResponseMessage other = await http.SendAsync(With(cookie, path));
            Assert.Equal((path, HttpStatusCode.NotFound), (path, other.StatusCode));
        }
    }

    [Fact]
    public async Task Page_LinkFollowedFromAnotherSite_IsAPageThatGoesOn()
    {
        using HttpClient http = Client();
        var request = new HttpRequestMessage(HttpMethod.Get, (await InviteAsync("kitchen")).Link) { Headers = { { "Sec-Fetch-Site", "cross-site" } } };
        using HttpResponseMessage answer = await http.SendAsync(request);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Contains("http-equiv=refresh content=\"0;url=/\"", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Single(answer.Headers.GetValues("Set-Cookie"));
    }

    [Fact]
    public async Task Page_LinkRevoked_EndsAnOpenStreamAndEveryLaterRequestAlsoAfterARestart()
    {
        V1.ReaderLink link = await InviteAsync("kitchen"), other = await InviteAsync("office");
        using HttpClient http = Client();
        string cookie = await CookieAsync(http, link.Link), otherCookie = await CookieAsync(http, other.Link);
        using HttpResponseMessage events = await http.SendAsync(With(cookie, "/events"), HttpCompletionOption.ResponseHeadersRead);
        Assert.Equal(HttpStatusCode.OK, events.StatusCode);
        await _collector.AskAsync(async o => await o.RevokeReaderAsync(new V1.RevokeReaderRequest { Reader = "kitchen" }));
        await AssertEndsAsync(events);
        await AssertStandsAsync();
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        using HttpClient again = Client();
        await AssertStandsAsync(again);
        Assert.Equal(["office"], (await _collector.AskAsync(async o => await o.ListReadersAsync(new V1.ListReadersRequest()))).Readers);
        Assert.Equal(link.CertificateSha256, _fingerprint); // what a person compared once is still true
        RpcException e = await Assert.ThrowsAsync<RpcException>(() => _collector.AskAsync(async o => await o.RevokeReaderAsync(new V1.RevokeReaderRequest { Reader = "kitchen" })));
        Assert.Contains("No reader \"kitchen\" has a link", e.Status.Detail, StringComparison.Ordinal);

        async Task AssertStandsAsync(HttpClient? by = null)
        {
            using HttpResponseMessage refused = await (by ?? http).SendAsync(With(cookie, "/"));
            using HttpResponseMessage used = await (by ?? http).GetAsync(new Uri(link.Link).PathAndQuery);
            using HttpResponseMessage served = await (by ?? http).SendAsync(With(otherCookie, "/"));
            Assert.Equal((HttpStatusCode.Forbidden, HttpStatusCode.Forbidden, HttpStatusCode.OK), (refused.StatusCode, used.StatusCode, served.StatusCode));
        }
    }

    [Fact]
    public async Task Invite_SameReaderAgain_VoidsTheFormerLink()
    {
        using HttpClient http = Client();
        V1.ReaderLink first = await InviteAsync("kitchen");
        string cookie = await CookieAsync(http, first.Link);
        using HttpResponseMessage events = await http.SendAsync(With(cookie, "/events"), HttpCompletionOption.ResponseHeadersRead);
        V1.ReaderLink second = await InviteAsync("kitchen");
        Assert.Equal((false, true), (first.Replaces, second.Replaces));
        await AssertEndsAsync(events);
        using HttpResponseMessage former = await http.SendAsync(With(cookie, "/"));
        Assert.Equal(HttpStatusCode.Forbidden, former.StatusCode);
        Assert.NotEmpty(await CookieAsync(http, second.Link));
        RpcException e = await Assert.ThrowsAsync<RpcException>(() => InviteAsync("../x"));
        Assert.Contains("The name of a reader has 1 to", e.Status.Detail, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Door_PlainTextAndWhatIsForThisMachine_IsNoWayIn()
    {
        using var plain = new HttpClient();
        await Assert.ThrowsAnyAsync<HttpRequestException>(() => plain.GetAsync($"http://{Address}/"));
        using HttpClient here = Client();
        using HttpResponseMessage health = await here.GetAsync("/health/live");
        Assert.Equal("alive\n", await health.Content.ReadAsStringAsync());
        if (OtherAddress() is { } own)
        {
            // From this machine, but through its network: as another machine would come.
            using HttpClient away = Client($"{own}:{Address.Split(':')[1]}");
            foreach (string path in (string[])["/health/live", "/health/ready", "/metrics"])
            {
                using HttpResponseMessage answer = await away.GetAsync(path);
                Assert.Equal((path, HttpStatusCode.NotFound), (path, answer.StatusCode));
            }
        }
    }

    [Fact]
    public async Task Token_IsNowhereButInTheLink()
    {
        V1.ReaderLink link = await InviteAsync("kitchen");
        string token = link.Link.Split("key=")[1];
        using HttpClient http = Client();
        string cookie = await CookieAsync(http, link.Link);
        await http.SendAsync(With(cookie, "/report?night=nonsense"));
        await http.GetAsync($"/report?key={token}");
        await http.GetAsync($"/?key={token}x");
        await _collector.AskAsync(async o => await o.RevokeReaderAsync(new V1.RevokeReaderRequest { Reader = "kitchen" }));
        await http.GetAsync(link.Link);
        await _collector.StopAsync();
        string log = _log.ToString();
        Assert.Contains("has a link to the page", log, StringComparison.Ordinal);
        Assert.Contains("no longer counts", log, StringComparison.Ordinal);
        Assert.DoesNotContain(token, log, StringComparison.Ordinal);
        foreach (string file in Directory.GetFiles(_collector.Folder, "*", SearchOption.AllDirectories))
        {
            byte[] content = await File.ReadAllBytesAsync(file);
            Assert.True(content.AsSpan().IndexOf(Encoding.UTF8.GetBytes(token)) < 0 && content.AsSpan().IndexOf(System.Buffers.Text.Base64Url.DecodeFromChars(token)) < 0, file);
        }

        if (!OperatingSystem.IsWindows())
        {
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(Path.Combine(_collector.Folder, "page.pem")));
        }
    }

    [Fact]
    public async Task Certificate_AsAnotherProgramSeesIt_IsTheAuthoritysAndHasThePrintedFingerprint()
    {
        V1.ReaderLink link = await InviteAsync("kitchen");
        string authority = Path.Combine(_collector.Folder, "authority", "authority.pem");
        string shown = await ShellAsync($"openssl s_client -connect {Address} -CAfile '{authority}' -verify_return_error < /dev/null 2>&1 | tee /dev/stderr | openssl x509 -noout -fingerprint -sha256");
        Assert.Equal(link.CertificateSha256, shown.Split('=')[^1]);
        string page = await ShellAsync($"curl -sS -L -c - -o /dev/null -w '%{{http_code}}' --cacert '{authority}' '{link.Link}' | head -c 3");
        Assert.Equal("200", page); // the certificate names the address, and the cookie is taken along
    }

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    private static async Task<string> ShellAsync(string command)
    {
        using Process shell = Process.Start(new ProcessStartInfo("/bin/sh", ["-c", command]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        Task<string> errors = shell.StandardError.ReadToEndAsync();
        string said = (await shell.StandardOutput.ReadToEndAsync()).Trim();
        await shell.WaitForExitAsync();
        Assert.True(shell.ExitCode == 0, said + await errors);
        return said;
    }

    /// <summary>A stream that goes on brings something every second when the page changes, and else nothing: its end is an end.</summary>
    private static async Task AssertEndsAsync(HttpResponseMessage events)
    {
        using var stream = new StreamReader(await events.Content.ReadAsStreamAsync());
        try
        {
            await stream.ReadToEndAsync().WaitAsync(TimeSpan.FromSeconds(20));
        }
        catch (IOException)
        {
            // Cut off in the middle.
        }
    }

    private static HttpRequestMessage With(string cookie, string path) => new(HttpMethod.Get, path) { Headers = { { "Cookie", cookie.Split(';')[0] } } };

    private static async Task<string> CookieAsync(HttpClient http, string link)
    {
        using HttpResponseMessage answer = await http.GetAsync(link);
        return Assert.Single(answer.Headers.GetValues("Set-Cookie"));
    }

    private static IPAddress? OtherAddress() => System.Net.NetworkInformation.NetworkInterface.GetAllNetworkInterfaces()
        .SelectMany(n => n.GetIPProperties().UnicastAddresses)
        .Select(a => a.Address)
        .FirstOrDefault(a => a.AddressFamily == AddressFamily.InterNetwork && !IPAddress.IsLoopback(a));

    private HttpClient Client(string? at = null) => new(new HttpClientHandler
    {
        AllowAutoRedirect = false,
        UseCookies = false,
        ServerCertificateCustomValidationCallback = (_, certificate, _, _) =>
        {
            _fingerprint = PageCertificate.Fingerprint(certificate!);
            return true;
        },
    })
    {
        BaseAddress = new Uri($"https://{at ?? Address}"),
    };

    private Task<V1.ReaderLink> InviteAsync(string reader) =>
        _collector.AskAsync(async o => await o.InviteReaderAsync(new V1.InviteReaderRequest { Reader = reader, Address = Address }));
}
