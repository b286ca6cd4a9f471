using System.Diagnostics;
using System.Net;
using System.Text;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Tests.Notices.Morning;
using Cardassay.Fixtures;
using MimeKit;
using SmtpServer.Protocol;

namespace Cardassay.Collector.Tests.Notices;

/// <summary>An SMTP server of another code base than the client receives what is sent.</summary>
public sealed class MailTests : IAsyncDisposable
{
    private static readonly DateTimeOffset Now = new(2031, 3, 14, 6, 30, 0, TimeSpan.Zero);
    private readonly MailServer _server = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-mail-").FullName;

    [Fact]
    public async Task SendAsync_Message_ArrivesWithItsKeyAsMessageId()
    {
        SendOutcome outcome = await new MailChannel(Settings()).SendAsync(Message("noReport-2031-03-13"), CancellationToken.None);
        Assert.Equal("", outcome.Problem);
        MimeMessage mail = Assert.Single(_server.Mails);
        Assert.Equal("Cardassay: über T-07", mail.Subject);
        Assert.Equal("noReport-2031-03-13@cardassay.invalid", mail.MessageId);
        Assert.Equal("bench@example.org", Assert.Single(mail.From.Mailboxes).Address);
        Assert.Equal(["a@example.org", "b@example.org"], mail.To!.Mailboxes.Select(m => m.Address));
        Assert.Equal("Look at the board.", mail.TextBody!.Trim());
        Assert.Equal("auto-generated", mail.Headers["Auto-Submitted"]);
    }

    [Fact]
    public async Task SendAsync_MorningReport_IsTextAndHtmlWithTheWholeReportAttached()
    {
        Assert.Equal("", (await SendMorningAsync(SampleMorning.Report, "/srv/www/cards")).Problem);
        MimeMessage mail = Assert.Single(_server.Mails);
        Assert.Equal("Cardassay: night: 1 verdict new", mail.Subject);
        Assert.Contains(SampleMorning.Report.FirstText.TrimEnd(), mail.TextBody!.ReplaceLineEndings("\n"), StringComparison.Ordinal);
        Assert.Contains("attached", mail.TextBody, StringComparison.Ordinal);
        var attached = (MimePart)Assert.Single(mail.Attachments);
        Assert.Equal("2031-03-13.html", attached.FileName);
        using var bytes = new MemoryStream();
        await attached.Content!.DecodeToAsync(bytes);
        Assert.Equal(SampleMorning.Report.Html, Encoding.UTF8.GetString(bytes.ToArray()));

        // A mail program runs nothing, loads nothing and often drops style sheets.
        string html = mail.HtmlBody!;
        Assert.All((string[])["<script", "<style", "<link", "<img", "src=", "href=", "url("], what => Assert.DoesNotContain(what, html, StringComparison.OrdinalIgnoreCase));
        Assert.Contains("<b>INVENTED", html, StringComparison.OrdinalIgnoreCase);
        string shown = WebUtility.HtmlDecode(html.Replace("<code>", "`", StringComparison.Ordinal).Replace("</code>", "`", StringComparison.Ordinal));
        Assert.Contains("<code>", html, StringComparison.Ordinal);
        Assert.All(SampleMorning.Report.FirstPage.SelectMany(p => p.Lines), line => Assert.Contains($"<li>{line}</li>", shown, StringComparison.Ordinal));
        Assert.Equal(
            "multipart/mixed[multipart/alternative[text/plain text/html] text/html;2031-03-13.html]",
            await PythonAsync(mail, "import email,email.policy,sys\ndef s(p): return p.get_content_type()+('['+' '.join(map(s,p.iter_parts()))+']' if p.is_multipart() else ';'+p.get_filename() if p.get_filename() else '')\nprint(s(email.message_from_binary_file(sys.stdin.buffer,policy=email.policy.default)))"));
    }

    [Theory]
    [InlineData(MorningMail.MostAttachedBytes - 1, true)]
    [InlineData(MorningMail.MostAttachedBytes, false)]
    public async Task SendAsync_MorningReportFromFiveMegabytes_SaysWhereItIsInstead(int bytes, bool isAttached)
    {
        string html = SampleMorning.Report.Html;
        MorningReport report = SampleMorning.Report with { Html = html + new string('\n', bytes - Encoding.UTF8.GetByteCount(html)) };
        Assert.Equal("", (await SendMorningAsync(report, "/srv/www/cards")).Problem);
        Assert.Equal("", (await SendMorningAsync(report)).Problem);
        Assert.All(_server.Mails, m => Assert.Equal(isAttached ? 1 : 0, m.Attachments.Count()));
        if (!isAttached)
        {
            Assert.All([_server.Mails[0].TextBody!, _server.Mails[0].HtmlBody!], b => Assert.Contains("5.0 MB, too much for a mail. It is written to /srv/www/cards/2031-03-13.html.", b, StringComparison.Ordinal));
            Assert.Contains("report --night 2031-03-13 --format html", _server.Mails[1].TextBody, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task SendAsync_MorningReportThatIsNoLongerKept_IsGivenUp()
    {
        var shelf = new MorningShelf(Path.Combine(_folder, "empty"));
        SendOutcome outcome = await new MailChannel(Settings(), shelf).SendAsync(Message("k") with { Night = "2031-03-13" }, CancellationToken.None);
        Assert.Equal((false, false), (outcome.Delivered, outcome.TryAgain));
        Assert.Empty(_server.Mails);
        Assert.True(new MailChannel(Settings(), shelf).Takes(NoticeKind.Morning));
        Assert.False(new MailChannel(Settings()).Takes(NoticeKind.Morning));
    }

    [Fact]
    public async Task SendAsync_WrongPassword_IsGivenUpWithoutNamingIt()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { User = MailServer.User, Password = "wrong secret" }).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, false), (outcome.Delivered, outcome.TryAgain));
        Assert.Contains("did not accept the user name and password", outcome.Problem, StringComparison.Ordinal);
        Assert.DoesNotContain("wrong secret", outcome.Problem, StringComparison.Ordinal);
        Assert.True((await new MailChannel(Settings() with { User = MailServer.User, Password = MailServer.Password }).SendAsync(Message("k"), CancellationToken.None)).Delivered);
    }

    [Fact]
    public async Task SendAsync_ServerThatWantsALaterTryOrNone_IsToldApart()
    {
        _server.Answer = new SmtpResponse((SmtpReplyCode)451, "later");
        SendOutcome later = await new MailChannel(Settings()).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, true), (later.Delivered, later.TryAgain));
        _server.Answer = new SmtpResponse((SmtpReplyCode)554, "never");
        SendOutcome never = await new MailChannel(Settings()).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, false), (never.Delivered, never.TryAgain));
    }

    [Fact]
    public async Task SendAsync_NoTlsWhereItIsAskedFor_IsNotSentInPlainText()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { Security = MailSecurity.StartTls }).SendAsync(Message("k"), CancellationToken.None);
        Assert.False(outcome.Delivered);
        Assert.Empty(_server.Mails);
    }

    [Fact]
    public async Task SendAsync_NobodyThere_IsTriedLater()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { Port = MailServer.FreePort() }).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, true), (outcome.Delivered, outcome.TryAgain));
    }

    public async ValueTask DisposeAsync()
    {
        await _server.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    private MailSettings Settings() => new(
        "127.0.0.1", _server.Port, MailSecurity.None, null, null, "bench@example.org", ["a@example.org", "b@example.org"], TimeSpan.FromSeconds(20));

    private Task<SendOutcome> SendMorningAsync(MorningReport report, params string[] folders)
    {
        var shelf = new MorningShelf(_folder);
        shelf.Put("morning-2031-03-13", report);
        var notice = new Notice(NoticeKind.Morning, "morning-2031-03-13", "night: 1 verdict new", report.FirstText, Now) { Night = "2031-03-13" };
        return new MailChannel(Settings(), shelf, folders).SendAsync(notice, CancellationToken.None);
    }

    /// <summary>What the mail parser of another language says of a mail as it arrived.</summary>
    private static async Task<string> PythonAsync(MimeMessage mail, string program)
    {
        using Process python = Process.Start(new ProcessStartInfo("python3", ["-c", program]) { RedirectStandardInput = true, RedirectStandardOutput = true })!;
        await mail.WriteToAsync(python.StandardInput.BaseStream);
        python.StandardInput.Close();
        string said = await python.StandardOutput.ReadToEndAsync();
        await python.WaitForExitAsync();
        return said.Trim();
    }

    private static Notice Message(string key) => new(NoticeKind.NoReport, key, "über T-07", "Look at the board.", Now);
}
