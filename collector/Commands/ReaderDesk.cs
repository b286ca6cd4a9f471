using System.Buffers.Text;
using System.Security.Cryptography;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Trust;
using Google.Protobuf;

namespace Cardassay.Collector.Commands;

/// <summary>What the operator decides about those who read the page from another machine.</summary>
internal sealed partial class ReaderDesk(ReaderBook book, IntakeDesk desk, OpenDoors doors, ILogger<ReaderDesk> logger)
{
    private const string NoDoor = "The page is open to this machine only: start `serve --page 0.0.0.0:7421`, "
        + "which shows it over TLS to whoever has a link.";

    /// <summary>Makes a link; the reader's former one is void.</summary>
    /// <exception cref="CommandException">The name cannot be used, or the page is not open to others.</exception>
    internal async Task<V1.ReaderLink> InviteAsync(V1.InviteReaderRequest request, CancellationToken cancellationToken)
    {
        TrustDesk.CheckName(request.Reader, "a reader");
        if (doors.PageFingerprint is not { } fingerprint)
        {
            throw new CommandException(NoDoor, 2);
        }

        CollectorAddress address = TrustDesk.AddressOf(request.Address, doors.Page, NoDoor);
        string token = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(ReaderBook.TokenBytes));
        var invited = new V1.ReaderInvited { Reader = request.Reader, TokenSha256 = ByteString.CopyFrom(ReaderBook.HashOf(token)) };
        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { ReaderInvited = invited } }],
            cancellationToken);
        bool replaces = book.Invite(invited);
        LogInvited(logger, request.Reader);
        return new V1.ReaderLink
        {
            Reader = request.Reader,
            Link = $"https://{address}/?{ReaderGate.Key}={token}",
            CertificateSha256 = fingerprint,
            Replaces = replaces,
        };
    }

    /// <summary>Ends a link, and what it opened.</summary>
    /// <exception cref="CommandException">There is none.</exception>
    internal async Task<V1.ReaderShutOut> RevokeAsync(string reader, CancellationToken cancellationToken)
    {
        if (!book.Names.Contains(reader))
        {
            throw new CommandException($"No reader \"{BoardNames.Clean(reader)}\" has a link; `invite --reader` lists those who have.", 2);
        }

        await desk.RecordAsync(
            [new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { ReaderRevoked = new V1.ReaderRevoked { Reader = reader } } }],
            cancellationToken);
        book.Revoke(reader);
        LogRevoked(logger, reader);
        return new V1.ReaderShutOut { Reader = reader };
    }

    /// <summary>Those whose links count.</summary>
    internal V1.ReaderList List() => new() { Readers = { book.Names } };

    [LoggerMessage(EventId = EventNumbers.ReaderInvited, Level = LogLevel.Information, Message = "Reader {Reader} has a link to the page")]
    private static partial void LogInvited(ILogger logger, string reader);

    [LoggerMessage(EventId = EventNumbers.ReaderRevoked, Level = LogLevel.Warning,
        Message = "The link of reader {Reader} no longer counts")]
    private static partial void LogRevoked(ILogger logger, string reader);
}
