using Cardassay.Collector.Intake;
using Google.Protobuf;
using Google.Protobuf.Reflection;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>Entries of one laboratory made into those of another: runs of its own, cards with other registers, other days, another label.</summary>
internal static class OtherLaboratory
{
    /// <summary>The entries of a laboratory of some cards.</summary>
    /// <param name="number">Number of the laboratory; its boards and runs are its own.</param>
    /// <param name="sameCards">True when its cards are those of laboratory 0, measured there on other days.</param>
    /// <param name="product">What its labels say; null leaves what the sample says.</param>
    /// <param name="sameDays">True when it measured in the same nights.</param>
    /// <param name="cards">Cards, with the tags T-01 and so on.</param>
    internal static List<V1.IntakeEntry> Entries(int number, bool sameCards = false, string? product = null, bool sameDays = false, int cards = 3)
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries(cards, seed: 20 + number, boardPrefix: $"lab{number}-");
        long shift = sameDays ? 0 : number * 30L * 24 * 3600 * 1_000_000_000;
        foreach (V1.IntakeEntry entry in entries)
        {
            entry.ReceivedUnixNs += shift;
            if (entry.OperatorEvent?.Claim is { } claim && product is not null)
            {
                claim.Product = product;
            }

            if (entry.OperatorEvent?.HandKept is { } kept)
            {
                kept.ImportId = $"{number:D12}";
            }

            if (entry.Delivered is { } delivered)
            {
                delivered.Record.WallUnixNs += shift;
                V1.Observation observation = V1.Observation.Parser.ParseFrom(delivered.Record.Payload);
                Number(observation, number);
                if (!sameCards && number > 0 && observation.CardIdentified is { } card)
                {
                    card.Identity = Serial(card.Identity, number);
                    card.Files.First(f => f.Name == "cid").Text = card.Identity;
                }

                delivered.Record.Payload = observation.ToByteString();
            }
        }

        return entries;
    }

    /// <summary>The master data of a collector that has its own entries (origin "") and those of others.</summary>
    internal static Collector.Analysis.MasterData Load(params (string Origin, IEnumerable<V1.IntakeEntry> Entries)[] parts)
    {
        using Collector.Storage.Memory.MemoryRecordStore store = EntryStore.Of(parts.SelectMany(p => p.Entries.Select(e => Of(e, p.Origin))));
        return MasterDataLoader.Load(store);
    }

    private static V1.IntakeEntry Of(V1.IntakeEntry entry, string origin)
    {
        V1.IntakeEntry own = entry.Clone();
        if (own.Delivered is { } delivered)
        {
            delivered.Origin = origin;
        }
        else
        {
            own.OperatorEvent.Origin = origin;
        }

        return own;
    }

    private static string Serial(string cid, int number) => string.Concat(cid.AsSpan(0, 18), $"{0x10 + number:x2}", cid.AsSpan(20));

    /// <summary>Runs of another laboratory have ids of their own.</summary>
    private static void Number(V1.Observation observation, int number)
    {
        foreach (FieldDescriptor field in V1.Observation.Descriptor.Fields.InFieldNumberOrder())
        {
            if (field.FieldType == FieldType.Message && field.Accessor.GetValue(observation) is IMessage of && of.Descriptor.FindFieldByName("run_id") is { } id)
            {
                byte[] bytes = ((ByteString)id.Accessor.GetValue(of)).ToByteArray();
                bytes[^1] = (byte)(100 + number);
                id.Accessor.SetValue(of, ByteString.CopyFrom(bytes));
            }
        }
    }
}
