using System.Buffers;
using System.Net;
using System.Net.Sockets;
using Cardassay.Collector.Notices;
using MimeKit;
using SmtpServer;
using SmtpServer.Authentication;
using SmtpServer.Protocol;
using SmtpServer.Storage;

namespace Cardassay.Collector.Tests.Notices;

/// <summary>A real SMTP server on this machine, of another code base than the client, receives what is sent.</summary>
public sealed class MailTests : IAsyncDisposable
{
    private static readonly DateTimeOffset Now = new(2031, 3, 14, 6, 30, 0, TimeSpan.Zero);
    private readonly CancellationTokenSource _stop = new();
    private readonly Inbox _inbox = new();
    private readonly int _port;
    private readonly Task _running;

    public MailTests()
    {
        _port = FreePort();
        var services = new SmtpServer.ComponentModel.ServiceProvider();
        services.Add((IMessageStore)_inbox);
        services.Add((IUserAuthenticator)new DelegatingUserAuthenticator((user, password) => user == "bench" && password == "the password"));
        ISmtpServerOptions options = new SmtpServerOptionsBuilder()
            .ServerName("localhost")
            .Endpoint(e => e.Endpoint(new IPEndPoint(IPAddress.Loopback, _port)).AllowUnsecureAuthentication())
            .Build();
        _running = new SmtpServer.SmtpServer(options, services).StartAsync(_stop.Token);
    }

    [Fact]
    public async Task SendAsync_Message_ArrivesWithItsKeyAsMessageId()
    {
        SendOutcome outcome = await new MailChannel(Settings()).SendAsync(Message("noReport-2031-03-13"), CancellationToken.None);
        Assert.Equal("", outcome.Problem);
        MimeMessage mail = Assert.Single(_inbox.Mails);
        Assert.Equal("Cardassay: über T-07", mail.Subject);
        Assert.Equal("noReport-2031-03-13@cardassay.invalid", mail.MessageId);
        Assert.Equal("bench@example.org", Assert.Single(mail.From.Mailboxes).Address);
        Assert.Equal(["a@example.org", "b@example.org"], mail.To!.Mailboxes.Select(m => m.Address));
        Assert.Equal("Look at the board.", mail.TextBody!.Trim());
        Assert.Equal("auto-generated", mail.Headers["Auto-Submitted"]);
    }

    [Fact]
    public async Task SendAsync_WrongPassword_IsGivenUpWithoutNamingIt()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { User = "bench", Password = "wrong secret" }).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, false), (outcome.Delivered, outcome.TryAgain));
        Assert.Contains("did not accept the user name and password", outcome.Problem, StringComparison.Ordinal);
        Assert.DoesNotContain("wrong secret", outcome.Problem, StringComparison.Ordinal);
        Assert.True((await new MailChannel(Settings() with { User = "bench", Password = "the password" }).SendAsync(Message("k"), CancellationToken.None)).Delivered);
    }

    [Fact]
    public async Task SendAsync_ServerThatWantsALaterTryOrNone_IsToldApart()
    {
        _inbox.Answer = new SmtpResponse((SmtpReplyCode)451, "later");
        SendOutcome later = await new MailChannel(Settings()).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, true), (later.Delivered, later.TryAgain));
        _inbox.Answer = new SmtpResponse((SmtpReplyCode)554, "never");
        SendOutcome never = await new MailChannel(Settings()).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, false), (never.Delivered, never.TryAgain));
    }

    [Fact]
    public async Task SendAsync_NoTlsWhereItIsAskedFor_IsNotSentInPlainText()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { Security = MailSecurity.StartTls }).SendAsync(Message("k"), CancellationToken.None);
        Assert.False(outcome.Delivered);
        Assert.Empty(_inbox.Mails);
    }

    [Fact]
    public async Task SendAsync_NobodyThere_IsTriedLater()
    {
        SendOutcome outcome = await new MailChannel(Settings() with { Port = FreePort() }).SendAsync(Message("k"), CancellationToken.None);
        Assert.Equal((false, true), (outcome.Delivered, outcome.TryAgain));
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        try
        {
            await _running;
        }
        catch (OperationCanceledException)
        {
            // Told to stop.
        }

        _stop.Dispose();
    }

    private MailSettings Settings() => new(
        "127.0.0.1", _port, MailSecurity.None, null, null, "bench@example.org", ["a@example.org", "b@example.org"], TimeSpan.FromSeconds(20));

    private static Notice Message(string key) => new(NoticeKind.NoReport, key, "über T-07", "Look at the board.", Now);

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    private sealed class Inbox : MessageStore
    {
        internal List<MimeMessage> Mails { get; } = [];

        internal SmtpResponse Answer { get; set; } = SmtpResponse.Ok;

        public override Task<SmtpResponse> SaveAsync(ISessionContext context, IMessageTransaction transaction, ReadOnlySequence<byte> buffer, CancellationToken cancellationToken)
        {
            if (Answer.ReplyCode == SmtpReplyCode.Ok)
            {
                using var bytes = new MemoryStream(buffer.ToArray());
                lock (Mails)
                {
                    Mails.Add(MimeMessage.Load(bytes, cancellationToken));
                }
            }

            return Task.FromResult(Answer);
        }
    }
}
