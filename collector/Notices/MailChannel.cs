using System.Net.Sockets;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Trust;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using MimeKit;

namespace Cardassay.Collector.Notices;

/// <summary>
/// Sends a message as a plain text mail, a report as the mail <see cref="MorningMail"/> makes of it. Its Message-Id comes from the key, so
/// that a second copy can be told as one.
/// </summary>
/// <param name="settings">The server and the addresses.</param>
/// <param name="reports">Where reports are kept; null when none goes this way.</param>
/// <param name="folders">Folders that reports are written to as well.</param>
internal sealed class MailChannel(MailSettings settings, MorningShelf? reports = null, IReadOnlyList<string>? folders = null)
    : INoticeChannel
{
    /// <summary>The slowest line an attached report is sent over within its time.</summary>
    private const int LeastBytesPerSecond = 64 << 10;

    public string Name => "mail";

    public bool Takes(NoticeKind kind) => kind != NoticeKind.Morning || reports is not null;

    public async Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken)
    {
        MorningReport? report = notice.Night is null ? null : reports?.Find(notice.Key);
        if (notice.Night is not null && report is null)
        {
            return SendOutcome.Never("The report is no longer kept.");
        }

        TimeSpan timeout = settings.Timeout
            + TimeSpan.FromSeconds(Math.Min(report?.Html.Length ?? 0, MorningMail.MostAttachedBytes) * 4L / 3 / LeastBytesPerSecond);
        using var client = new SmtpClient { Timeout = (int)timeout.TotalMilliseconds };
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(timeout);
        try
        {
            SecureSocketOptions security = settings.Security switch
            {
                MailSecurity.Tls => SecureSocketOptions.SslOnConnect,
                MailSecurity.StartTls => SecureSocketOptions.StartTls,
                _ => SecureSocketOptions.None,
            };
            await client.ConnectAsync(settings.Server, settings.Port, security, limit.Token);
            if (settings.User is { } user)
            {
                await client.AuthenticateAsync(user, settings.Password!, limit.Token);
            }

            using MimeMessage message = Message(notice, report);
            await client.SendAsync(message, limit.Token);
            await client.DisconnectAsync(quit: true, limit.Token);
            return SendOutcome.Done;
        }
        catch (AuthenticationException)
        {
            return SendOutcome.Never($"{settings.Server} did not accept the user name and password.");
        }
        catch (SmtpCommandException e)
        {
            // 4yz is a transient refusal, 5yz a permanent one (RFC 5321, section 4.2.1).
            string problem = FormattableString.Invariant($"{settings.Server} refused the mail with {(int)e.StatusCode}.");
            return (int)e.StatusCode is >= 400 and < 500 ? SendOutcome.Later(problem) : SendOutcome.Never(problem);
        }
        catch (SslHandshakeException)
        {
            return SendOutcome.Never($"{settings.Server} has no certificate this machine trusts, or speaks no TLS on port "
                + $"{settings.Port}.");
        }
        catch (NotSupportedException e)
        {
            return SendOutcome.Never($"{settings.Server} does not offer what the settings ask for: {e.Message}");
        }
        catch (Exception e) when (e is IOException or SocketException or SmtpProtocolException or ServiceNotConnectedException)
        {
            return SendOutcome.Later($"{settings.Server} was not reached: {e.Message}");
        }
        catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
        {
            return SendOutcome.Later($"{settings.Server} did not answer in time.");
        }
    }

    private MimeMessage Message(Notice notice, MorningReport? report)
    {
        var message = new MimeMessage
        {
            Subject = "Cardassay: " + PlainText.Clean(notice.Title),
            Date = notice.At,
            MessageId = $"{notice.Key}@cardassay.invalid",
            Body = report is null
                ? new TextPart("plain") { Text = PlainText.CleanLines(notice.Text) + "\n" }
                : MorningMail.Body(report, folders ?? []),
        };
        message.From.Add(MailboxAddress.Parse(settings.From));
        message.To.AddRange(settings.To.Select(MailboxAddress.Parse));
        message.Headers.Add("Auto-Submitted", "auto-generated"); // RFC 3834: no vacation answers
        return message;
    }
}
