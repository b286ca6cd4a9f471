using System.Globalization;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Trust;
using Google.Protobuf;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Raw records as text anyone can read: one JSON object a line, observations as protobuf's own JSON with the field names of the `.proto` files.</summary>
internal static class RecordLines
{
    private static readonly JsonFormatter Formatter = new(JsonFormatter.Settings.Default);

    /// <summary>One entry as one line without its end.</summary>
    internal static string Write(PublishedEntry published)
    {
        V1.IntakeEntry entry = published.Entry;
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteNumber("receivedUnixNs", entry.ReceivedUnixNs);
            switch (entry.ContentCase)
            {
                case V1.IntakeEntry.ContentOneofCase.Delivered:
                    V1.Delivered delivered = entry.Delivered;
                    json.WriteString("board", delivered.Board);
                    if (delivered.Origin.Length > 0)
                    {
                        json.WriteString("collector", delivered.Origin); // whose board and stickers they were; not written where they were its own
                    }

                    json.WriteString("epoch", Convert.ToHexStringLower(delivered.Record.Epoch.Span));
                    json.WriteNumber("sequence", delivered.Record.Sequence);
                    json.WriteNumber("wallUnixNs", delivered.Record.WallUnixNs);
                    json.WriteNumber("clockOffsetNs", delivered.ClockOffsetNs);
                    json.WriteBoolean("conflicting", delivered.Conflicting);
                    json.WriteString("journaledSha256", published.JournaledSha256);
                    json.WritePropertyName("observation");
                    json.WriteRawValue(Formatter.Format(V1.Observation.Parser.ParseFrom(delivered.Record.Payload)));
                    break;
                case V1.IntakeEntry.ContentOneofCase.OperatorEvent:
                    json.WritePropertyName("said");
                    json.WriteRawValue(Formatter.Format(entry.OperatorEvent));
                    break;
                default:
                    json.WritePropertyName("noticed");
                    json.WriteRawValue(Formatter.Format(entry.CollectorEvent));
                    break;
            }

            json.WriteEndObject();
        }

        return PlainText.EscapedJson(Encoding.UTF8.GetString(buffer.ToArray()));
    }

    /// <summary>The entry of a line.</summary>
    /// <exception cref="EvidenceException">It is not one; the message says why, without the line's number.</exception>
    internal static PublishedEntry Read(string line)
    {
        try
        {
            using JsonDocument document = JsonDocument.Parse(line);
            JsonElement json = document.RootElement;
            var entry = new V1.IntakeEntry { ReceivedUnixNs = json.GetProperty("receivedUnixNs").GetInt64() };
            string hash = "";
            if (json.TryGetProperty("observation", out JsonElement observation))
            {
                hash = json.GetProperty("journaledSha256").GetString() ?? "";
                entry.Delivered = new V1.Delivered
                {
                    Board = json.GetProperty("board").GetString() ?? "",
                    Origin = json.TryGetProperty("collector", out JsonElement collector) ? collector.GetString() ?? "" : "",
                    Conflicting = json.GetProperty("conflicting").GetBoolean(),
                    ClockOffsetNs = json.GetProperty("clockOffsetNs").GetInt64(),
                    Record = new V1.Record
                    {
                        Epoch = ByteString.CopyFrom(Convert.FromHexString(json.GetProperty("epoch").GetString() ?? "")),
                        Sequence = json.GetProperty("sequence").GetUInt64(),
                        WallUnixNs = json.GetProperty("wallUnixNs").GetInt64(),
                        Payload = JsonParser.Default.Parse<V1.Observation>(observation.GetRawText()).ToByteString(),
                    },
                };
                if (EntryStore.WhatIsWrong(entry.Delivered.Record) is { } wrong)
                {
                    throw new EvidenceException(wrong);
                }
            }
            else if (json.TryGetProperty("said", out JsonElement said))
            {
                entry.OperatorEvent = JsonParser.Default.Parse<V1.OperatorEvent>(said.GetRawText());
            }
            else
            {
                entry.CollectorEvent = JsonParser.Default.Parse<V1.CollectorEvent>(json.GetProperty("noticed").GetRawText());
            }

            return new PublishedEntry(entry, hash);
        }
        catch (Exception e) when (e is JsonException or KeyNotFoundException or InvalidOperationException or FormatException or OverflowException or InvalidJsonException or InvalidProtocolBufferException)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"it is not an entry: {e.Message}"));
        }
    }
}
