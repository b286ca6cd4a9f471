using System.Globalization;
using System.Net;
using System.Net.NetworkInformation;
using System.Net.Sockets;
using System.Security.Cryptography;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Cardassay.Trust;
using Google.Protobuf;

namespace Cardassay.Collector.Commands;

/// <summary>What the operator decides about boards: whom to invite, whom to shut out.</summary>
internal sealed partial class TrustDesk(
    TrustBook book, Lazy<Authority> authority, EnrolmentGate gate, IntakeDesk desk, OpenDoors doors, TimeProvider time,
    ILogger<TrustDesk> logger)
{
    /// <summary>Longest life of an invitation, minutes.</summary>
    internal const int MaxValidMinutes = 24 * 60;

    internal IReadOnlyDictionary<string, (string Trust, DateTimeOffset? EndsAt)> Standing() => book.Standing(time.GetUtcNow());

    /// <exception cref="CommandException">The name or address cannot be used; one sentence.</exception>
    internal async Task<V1.InvitationMade> InviteAsync(V1.InviteRequest request, CancellationToken cancellationToken)
    {
        CheckName(request.Board, "a board");
        if (request.ValidMinutes is 0 or > MaxValidMinutes)
        {
            throw new CommandException(string.Create(CultureInfo.InvariantCulture, $"--valid: give 1 to {MaxValidMinutes} minutes."), 2);
        }

        CollectorAddress address = AddressOf(
            request.Address, doors.Boards, "No collector is listening for boards on this folder: start `serve`, or say where boards will "
                + "find it with --address HOST:PORT.");
        using IDisposable mine = await gate.EnterAsync(cancellationToken);
        byte[] code = RandomNumberGenerator.GetBytes(Invitation.CodeBytes);
        DateTimeOffset expires = time.GetUtcNow() + TimeSpan.FromMinutes(request.ValidMinutes);
        var invited = new V1.BoardInvited
        {
            Board = request.Board,
            CodeSha256 = ByteString.CopyFrom(SHA256.HashData(code)),
            ExpiresUnixNs = UnixTime.Ns(expires),
        };
        string line = new Invitation(address, authority.Value.Pin, code).ToLine();
        bool replaces = book.Standing(time.GetUtcNow()).TryGetValue(request.Board, out (string Trust, DateTimeOffset?) stands)
            && stands.Trust == "joined";
        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Invited = invited } }], CancellationToken.None);
        book.Invite(invited);
        LogInvited(logger, request.Board, expires);
        return new V1.InvitationMade
        {
            Board = request.Board,
            Line = line,
            ExpiresUnixNs = invited.ExpiresUnixNs,
            ReplacesMember = replaces,
            Address = address.ToString(),
        };
    }

    /// <exception cref="CommandException">Nobody of this name was invited or joined.</exception>
    internal async Task<V1.BoardShutOut> RevokeAsync(string board, CancellationToken cancellationToken)
    {
        using IDisposable mine = await gate.EnterAsync(cancellationToken);
        if (!book.Standing(time.GetUtcNow()).ContainsKey(board))
        {
            throw new CommandException($"No board \"{BoardNames.Clean(board)}\" was invited or joined; `boards` lists them.", 2);
        }

        await desk.RecordAsync(
            [new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Revoked = new V1.BoardRevoked { Board = board } } }],
            CancellationToken.None);
        (int certificates, int invitations) = book.Revoke(board);
        LogRevoked(logger, board, certificates);
        return new V1.BoardShutOut { Board = board, Certificates = (uint)certificates, Invitations = (uint)invitations };
    }

    /// <exception cref="CommandException">The name cannot be used.</exception>
    internal static void CheckName(string board, string whose)
    {
        if (board.Length == 0 || BoardNames.Clean(board) != board)
        {
            throw new CommandException(
                $"The name of {whose} has 1 to {BoardNames.MaxLength} letters, digits, '-', '_' or '.' (a dot neither first nor last).", 2);
        }
    }

    /// <summary>Where others find a door of this collector.</summary>
    /// <param name="asked">What the operator says; "" to find out.</param>
    /// <param name="door">What it listens on; null when it is closed.</param>
    /// <param name="closed">The sentence for that.</param>
    /// <exception cref="CommandException">Nobody can tell.</exception>
    internal static CollectorAddress AddressOf(string asked, string? door, string closed)
    {
        if (asked.Length > 0)
        {
            return CollectorAddress.TryParse(asked, out CollectorAddress? given)
                ? given
                : throw new CommandException("--address is not HOST:PORT, for example bench.local:7420.", 2);
        }

        if (door is not { } listening || !IPEndPoint.TryParse(listening, out IPEndPoint? point))
        {
            // A name ("localhost") is not guessed about.
            return door is { } name && CollectorAddress.TryParse(name, out CollectorAddress? named)
                ? named
                : throw new CommandException(closed, 2);
        }

        IPAddress host = point.Address.Equals(IPAddress.Any) || point.Address.Equals(IPAddress.IPv6Any)
            ? OwnAddress() ?? point.Address
            : point.Address;
        string text = string.Create(CultureInfo.InvariantCulture, $"{new IPEndPoint(host, point.Port)}");
        return CollectorAddress.TryParse(text, out CollectorAddress? address) && !host.Equals(IPAddress.Any)
            && !host.Equals(IPAddress.IPv6Any)
            ? address
            : throw new CommandException("This machine's address in the network cannot be told: give it with --address HOST:PORT.", 2);
    }

    /// <summary>This machine's address in the network that has a way out, else in any network.</summary>
    private static IPAddress? OwnAddress() => NetworkInterface.GetAllNetworkInterfaces()
        .Where(n => n.OperationalStatus == OperationalStatus.Up && n.NetworkInterfaceType != NetworkInterfaceType.Loopback)
        .Select(n => n.GetIPProperties())
        .OrderByDescending(p => p.GatewayAddresses.Count > 0)
        .SelectMany(p => p.UnicastAddresses)
        .Select(a => a.Address)
        .FirstOrDefault(a => a.AddressFamily == AddressFamily.InterNetwork && !IPAddress.IsLoopback(a));

    [LoggerMessage(EventId = EventNumbers.BoardInvited, Level = LogLevel.Information,
        Message = "Board {Board} is invited until {Expires:u}")]
    private static partial void LogInvited(ILogger logger, string board, DateTimeOffset expires);

    [LoggerMessage(EventId = EventNumbers.BoardRevoked, Level = LogLevel.Warning,
        Message = "Board {Board} was revoked, {Certificates} certificates no longer count")]
    private static partial void LogRevoked(ILogger logger, string board, int certificates);
}
