using Cardassay.Registers;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Wire;

/// <summary>
/// Turns observations into the bytes that are journaled and sent, and back. Used once on the way out; every later reader
/// decodes the same bytes.
/// </summary>
public static class ObservationCodec
{
    /// <summary>Encodes an observation. The same observation always gives the same bytes.</summary>
    /// <exception cref="ArgumentException">The observation is of a type this version does not know.</exception>
    public static byte[] Encode(Observation observation)
    {
        ArgumentNullException.ThrowIfNull(observation);
        var message = new V1.Observation();
        switch (observation)
        {
            case RunOpened opened:
                message.RunOpened = ToMessage(opened);
                break;
            case CardIdentified identified:
                message.CardIdentified = ToMessage(identified);
                break;
            case TrialMeasured trial:
                message.TrialMeasured = TrialCodec.ToMessage(trial);
                break;
            case ConditionsSampled sampled:
                message.ConditionsSampled = new V1.ConditionsSampled
                {
                    RunId = ToBytes(sampled.RunId),
                    Conditions = ConditionsCodec.ToMessage(sampled.Conditions),
                };
                break;
            case RunClosed closed:
                message.RunClosed = ToMessage(closed);
                break;
            case RangeLost lost:
                message.RangeLost = new V1.RangeLost
                {
                    Epoch = ByteString.CopyFrom(Convert.FromHexString(lost.Epoch)),
                    FirstSequence = lost.FirstSequence,
                    LastSequence = lost.LastSequence,
                    Reason = lost.Reason,
                };
                break;
            case ProofMeasured proof:
                message.ProofMeasured = ProofCodec.ToMessage(proof);
                break;
            default:
                throw new ArgumentException($"No encoding for {observation.GetType().Name}.", nameof(observation));
        }

        return message.ToByteArray();
    }

    /// <summary>
    /// Decodes an observation. Null for a kind this version does not know: the bytes are kept, a newer version reads them.
    /// </summary>
    /// <exception cref="WireFormatException">The bytes are not an observation.</exception>
    public static Observation? Decode(ReadOnlySpan<byte> bytes)
    {
        try
        {
            V1.Observation message = V1.Observation.Parser.ParseFrom(bytes);
            return message.KindCase switch
            {
                V1.Observation.KindOneofCase.RunOpened => FromMessage(message.RunOpened),
                V1.Observation.KindOneofCase.CardIdentified => FromMessage(message.CardIdentified),
                V1.Observation.KindOneofCase.TrialMeasured => TrialCodec.FromMessage(message.TrialMeasured),
                V1.Observation.KindOneofCase.ConditionsSampled => new ConditionsSampled
                {
                    RunId = ToRunId(message.ConditionsSampled.RunId),
                    Conditions = ConditionsCodec.FromMessage(message.ConditionsSampled.Conditions),
                },
                V1.Observation.KindOneofCase.RunClosed => FromMessage(message.RunClosed),
                V1.Observation.KindOneofCase.RangeLost => FromMessage(message.RangeLost),
                V1.Observation.KindOneofCase.ProofMeasured => ProofCodec.FromMessage(message.ProofMeasured),
                _ => null,
            };
        }
        catch (InvalidProtocolBufferException e)
        {
            throw new WireFormatException($"Not an observation: {e.Message}", e);
        }
    }

    internal static ByteString ToBytes(RunId id) => ByteString.CopyFrom(id.ToBytes());

    internal static RunId ToRunId(ByteString bytes) =>
        bytes.Length == 16
            ? RunId.FromBytes(bytes.Span)
            : throw new WireFormatException($"Not an observation: run_id has {bytes.Length} bytes instead of 16.");

    private static V1.RunOpened ToMessage(RunOpened opened)
    {
        var message = new V1.RunOpened
        {
            RunId = ToBytes(opened.RunId),
            Target = (V1.TargetKind)opened.Target,
            TargetPath = opened.TargetPath,
            TargetBytes = opened.TargetBytes,
            Attachment = (V1.Attachment)opened.Attachment,
            PlanName = opened.PlanName,
            PlanVersion = opened.PlanVersion,
            PlanText = opened.PlanText,
            Seed = opened.Seed,
            PlannedWriteBytes = opened.PlannedWriteBytes,
            HostName = opened.HostName,
            KernelRelease = opened.KernelRelease,
            BootId = opened.BootId,
            AgentVersion = opened.AgentVersion,
            JournalOnCard = opened.JournalOnCard,
            Invented = opened.Invented,
        };
        if (opened.Tag is { } tag)
        {
            message.Tag = tag;
        }

        if (opened.DiskName is { } diskName)
        {
            message.DiskName = diskName;
        }

        if (opened.DiskSequence is { } diskSequence)
        {
            message.DiskSequence = diskSequence;
        }

        if (opened.FileSystem is { } fileSystem)
        {
            message.FileSystem = fileSystem;
        }

        if (opened.MountOptions is { } mountOptions)
        {
            message.MountOptions = mountOptions;
        }

        if (opened.BoardModel is { } boardModel)
        {
            message.BoardModel = boardModel;
        }

        return message;
    }

    private static RunOpened FromMessage(V1.RunOpened message) => new()
    {
        RunId = ToRunId(message.RunId),
        Tag = message.HasTag ? message.Tag : null,
        Target = (TargetKind)message.Target,
        TargetPath = message.TargetPath,
        TargetBytes = message.TargetBytes,
        DiskName = message.HasDiskName ? message.DiskName : null,
        DiskSequence = message.HasDiskSequence ? message.DiskSequence : null,
        Attachment = (Attachment)message.Attachment,
        FileSystem = message.HasFileSystem ? message.FileSystem : null,
        MountOptions = message.HasMountOptions ? message.MountOptions : null,
        PlanName = message.PlanName,
        PlanVersion = message.PlanVersion,
        PlanText = message.PlanText,
        Seed = message.Seed,
        PlannedWriteBytes = message.PlannedWriteBytes,
        HostName = message.HostName,
        BoardModel = message.HasBoardModel ? message.BoardModel : null,
        KernelRelease = message.KernelRelease,
        BootId = message.BootId,
        AgentVersion = message.AgentVersion,
        JournalOnCard = message.JournalOnCard,
        Invented = message.Invented,
    };

    private static V1.CardIdentified ToMessage(CardIdentified card)
    {
        var message = new V1.CardIdentified
        {
            RunId = ToBytes(card.RunId),
            Identity = card.Identity,
            IdentityFromRegisters = card.IdentityFromRegisters,
            DiskBytes = card.DiskBytes,
            Attachment = (V1.Attachment)card.Attachment,
        };
        if (card.DiskName is { } diskName)
        {
            message.DiskName = diskName;
        }

        message.Files.Add(RegisterFiles.ToMessages(card.Files));
        return message;
    }

    private static CardIdentified FromMessage(V1.CardIdentified message)
    {
        return new CardIdentified
        {
            RunId = ToRunId(message.RunId),
            Identity = message.Identity,
            IdentityFromRegisters = message.IdentityFromRegisters,
            DiskName = message.HasDiskName ? message.DiskName : null,
            DiskBytes = message.DiskBytes,
            Attachment = (Attachment)message.Attachment,
            Files = RegisterFiles.FromMessages(message.Files),
        };
    }

    private static V1.RunClosed ToMessage(RunClosed closed)
    {
        var message = new V1.RunClosed
        {
            RunId = ToBytes(closed.RunId),
            Outcome = (V1.RunOutcome)closed.Outcome,
            BytesWritten = closed.BytesWritten,
            OdometerBytes = closed.OdometerBytes,
        };
        if (closed.Reason is { } reason)
        {
            message.Reason = reason;
        }

        return message;
    }

    private static RunClosed FromMessage(V1.RunClosed message) => new()
    {
        RunId = ToRunId(message.RunId),
        Outcome = (RunOutcome)message.Outcome,
        Reason = message.HasReason ? message.Reason : null,
        BytesWritten = message.BytesWritten,
        OdometerBytes = message.OdometerBytes,
    };

    /// <summary>
    /// What an encoded observation is, by its first byte: the tag of the one field it is made of (protobuf encoding, "Message Structure").
    /// Nothing else of it is looked at, so that it may still be broken.
    /// </summary>
    public static V1.Observation.KindOneofCase KindOf(ReadOnlySpan<byte> payload)
    {
        const int lengthDelimited = 2;
        return payload.Length > 0 && (payload[0] & 7) == lengthDelimited && Enum.IsDefined((V1.Observation.KindOneofCase)(payload[0] >> 3))
            ? (V1.Observation.KindOneofCase)(payload[0] >> 3)
            : V1.Observation.KindOneofCase.None;
    }

    /// <summary>The range an encoded observation declares lost, or null for any other observation and for what cannot be read.</summary>
    public static RangeLost? LostRangeOf(ReadOnlySpan<byte> payload)
    {
        if (KindOf(payload) != V1.Observation.KindOneofCase.RangeLost)
        {
            return null;
        }

        try
        {
            return Decode(payload) as RangeLost;
        }
        catch (WireFormatException)
        {
            return null;
        }
    }

    private static RangeLost FromMessage(V1.RangeLost message) =>
        message.Epoch.Length != 16
            ? throw new WireFormatException($"Not an observation: epoch has {message.Epoch.Length} bytes instead of 16.")
            : new RangeLost
            {
                Epoch = Convert.ToHexStringLower(message.Epoch.Span),
                FirstSequence = message.FirstSequence,
                LastSequence = message.LastSequence,
                Reason = message.Reason,
            };
}
