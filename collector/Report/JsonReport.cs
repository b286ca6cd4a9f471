using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using Cardassay.Identity;
using Cardassay.Trials;
using System.Text.Unicode;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;

namespace Cardassay.Collector.Report;

/// <summary>
/// The report for programs. `report.schema.json` beside this file describes it. Numbers are the printed, rounded ones, digit
/// for digit. Keys may be added; none is ever renamed or given another meaning.
/// </summary>
public static class JsonReport
{
    /// <summary>Version of the layout; grows only when a key would change its meaning.</summary>
    public const int Version = 1;

    /// <summary>Keys a reader may rely on for every card; a metric that was not measured is null.</summary>
    private static readonly string[] AlwaysPresent = [.. Wording.RankedMetrics.Select(m => m.Key)];

    private static readonly JsonWriterOptions Options = new()
    {
        Indented = true,
        NewLine = "\n",
        Encoder = Escaping(),
    };

    /// <summary>Bytes that may wait in memory before they are handed on.</summary>
    private const int WaitingBytes = 64 * 1024;

    /// <summary>Renders the model as JSON text with a final newline. A text cannot hold the report of millions of trials; <see cref="WriteAsync"/> has no such limit.</summary>
    public static string Render(ReportModel model)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, Options))
        {
            foreach (Utf8JsonWriter _ in Steps(json, model))
            {
                // All of it is wanted at once.
            }
        }

        return Encoding.UTF8.GetString(buffer.GetBuffer(), 0, (int)buffer.Length) + "\n";
    }

    /// <summary>Writes the same as <see cref="Render"/>, UTF-8, while it is made: no more than one card of it is in memory at a time.</summary>
    /// <param name="model">The report.</param>
    /// <param name="to">Where; it stays open.</param>
    /// <param name="cancellationToken">Ends the writing in the middle.</param>
    public static async Task WriteAsync(ReportModel model, Stream to, CancellationToken cancellationToken)
    {
        ArgumentNullException.ThrowIfNull(to);
        await using var json = new Utf8JsonWriter(to, Options);
        try
        {
            foreach (Utf8JsonWriter step in Steps(json, model))
            {
                if (step.BytesPending > WaitingBytes)
                {
                    await step.FlushAsync(cancellationToken);
                }
            }

            await json.FlushAsync(cancellationToken);
        }
        catch
        {
            json.Reset(Stream.Null); // what waits would be written to the broken stream once more
            throw;
        }

        await to.WriteAsync("\n"u8.ToArray(), cancellationToken);
        await to.FlushAsync(cancellationToken);
    }

    /// <summary>Writes the report piece by piece; after each the writer may be emptied.</summary>
    private static IEnumerable<Utf8JsonWriter> Steps(Utf8JsonWriter json, ReportModel model)
    {
        json.WriteStartObject();
        json.WriteNumber("version", Version);
        json.WriteBoolean("invented", model.Invented);
        if (model.Invented)
        {
            json.WriteString("notice", $"{Wording.Invented}. {Wording.InventedMeaning(model)}");
        }

        json.WriteString("generatedFor", model.GeneratedFor);
        json.WriteString("span", model.Span);
        json.WriteString("profile", model.Profile);
        FirstPage(json, model.First.Parts);
        Strings(json, "method", model.Method);
        Strings(json, "cautions", model.Cautions);
        Night(json, model.Night);
        Array(json, "needsPerson", model.NeedsPerson, n => Texts(json, ("subject", n.Subject), ("text", n.Text), ("do", n.Do)));
        Array(json, "verdictChanges", model.VerdictChanges, c => Texts(json, ("card", c.Card), ("before", c.Before), ("after", c.After)));
        Integrity(json, model.Integrity);
        json.WriteString("rankingStatement", model.RankingStatement);
        yield return json;
        foreach (Utf8JsonWriter step in Elements(json, "cards", model.Cards, card => Card(json, card)))
        {
            yield return step;
        }

        Array(json, "products", model.Products, p => Product(json, p));
        Price(json, model.Price);
        yield return json;
        foreach (Utf8JsonWriter step in Elements(json, "comparisons", model.Comparisons, table => Table(json, table)))
        {
            yield return step;
        }

        json.WriteEndObject();
    }

    private static void Night(Utf8JsonWriter json, NightSummary night)
    {
        json.WriteStartObject("night");
        WholeOrNull(json, "runsPlanned", night.RunsPlanned);
        json.WriteNumber("runsBegun", night.RunsBegun);
        json.WriteNumber("runsCompleted", night.RunsCompleted);
        json.WriteNumber("runsMissing", night.RunsMissing);
        json.WriteNumber("trialsMeasured", night.TrialsMeasured);
        json.WriteNumber("trialsInvalid", night.TrialsInvalid);
        Array(json, "troubles", night.Troubles, t =>
        {
            json.WriteString("what", t.What);
            json.WriteNumber("count", t.Count);
            Texts(json, ("card", t.Card), ("board", t.Board), ("why", t.Why));
        });
        json.WriteEndObject();
    }

    private static void Integrity(Utf8JsonWriter json, ReportIntegrity integrity)
    {
        json.WriteStartObject("integrity");
        Count(json, "received", integrity.Received);
        Count(json, "gaps", integrity.Gaps);
        Count(json, "conflicts", integrity.Conflicts);
        json.WriteNumber("entriesLost", integrity.EntriesLost);
        json.WriteNumber("entriesOnlyStored", integrity.EntriesOnlyStored);
        json.WriteBoolean("lossesAcknowledged", integrity.LossesAreAcknowledged);
        json.WriteString("line", Wording.IntegrityLine(integrity));
        Array(json, "findings", integrity.Findings, f => Finding(json, f));
        json.WriteEndObject();
    }

    private static void Count(Utf8JsonWriter json, string name, long? count)
    {
        if (count is { } known)
        {
            json.WriteNumber(name, known);
        }
        else
        {
            json.WriteNull(name);
        }
    }

    private static void Card(Utf8JsonWriter json, ReportCard card)
    {
        json.WriteString("tag", card.Tag);
        json.WriteString("identity", card.Identity);
        json.WriteBoolean("identityFromRegisters", card.IdentityFromRegisters);
        Texts(json, ("product", card.Product), ("condition", card.Condition));
        json.WriteBoolean("reference", card.IsReference);
        json.WriteString("price", card.Price);
        json.WriteBoolean("invented", card.Invented);
        json.WriteString("verdict", card.Verdict);
        json.WriteString("verdictBasis", card.VerdictBasis);
        Strings(json, "verdictMissing", card.VerdictMissing);
        Rank(json, card.Rank, card.Unranked);
        Composite(json, card.Composite);
        json.WriteString("floors", card.Floors);
        json.WriteString("trend", card.Trend?.Text);
        Strings(json, "behaviour", card.Behaviour);
        Strings(json, "notCounted", card.NotCounted);
        Array(json, "claim", card.ClaimLines, l => Texts(json, ("name", l.Name), ("claimed", l.Claimed), ("found", l.Found), ("agreement", l.Agreement)));
        Array(json, "marks", card.Marks, m =>
        {
            Texts(json, ("mark", m.Mark), ("outcome", m.Outcome), ("statement", m.Statement), ("text", m.Text));
            json.WriteBoolean("claimed", m.IsClaimed);
        });
        Array(json, "findings", card.Findings, f => Finding(json, f));
        json.WriteStartObject("metrics");
        foreach (string key in AlwaysPresent)
        {
            if (card.Metric(key) is null)
            {
                json.WriteNull(key);
            }
        }

        // One key holds the series the rank stands on; further series of the same kind (another block size, board or mode) follow in "others".
        foreach (IGrouping<string, ReportMetric> kind in card.Metrics.GroupBy(m => m.Key))
        {
            json.WriteStartObject(kind.Key);
            Metric(json, kind.First());
            Array(json, "others", [.. kind.Skip(1)], m => Metric(json, m));
            json.WriteEndObject();
        }

        json.WriteEndObject();
        Array(json, "latency", card.Latencies, l => Latency(json, l));
        Array(json, "throughput", card.Timelines, t => Throughput(json, t));
        Capacity(json, card.Capacity);
        Array(json, "runs", card.Runs, r => Run(json, r));
        Number(json, "writtenGigabytes", card.WrittenGigabytes);
    }

    private static void Rank(Utf8JsonWriter json, ReportRank? rank, string unranked)
    {
        if (rank is null)
        {
            json.WriteNull("rank");
            json.WriteString("unranked", unranked);
            return;
        }

        json.WriteStartObject("rank");
        json.WriteNumber("best", rank.Best);
        json.WriteNumber("worst", rank.Worst);
        json.WriteNumber("of", rank.Of);
        json.WriteNumber("group", rank.Group);
        json.WriteBoolean("provisional", rank.Provisional);
        json.WriteEndObject();
    }

    private static void Composite(Utf8JsonWriter json, ReportComposite? composite)
    {
        if (composite is null)
        {
            json.WriteNull("composite");
            return;
        }

        json.WriteStartObject("composite");
        Number(json, "median", composite.Value);
        Number(json, "low", composite.Low);
        Number(json, "high", composite.High);
        json.WriteNumber("runs", composite.Runs);
        json.WriteBoolean("isInterval", composite.IsInterval);
        json.WriteString("bounds", composite.Bounds);
        json.WriteEndObject();
    }

    private static void Finding(Utf8JsonWriter json, ReportFinding finding)
    {
        Texts(json, ("id", finding.Id), ("severity", finding.Severity), ("text", finding.Text));
        Array(json, "values", finding.Values, v => Texts(json, ("name", v.Name), ("value", v.Value)));
        Texts(json, ("source", finding.Source), ("settles", finding.Settles));
    }

    private static void Metric(Utf8JsonWriter json, ReportMetric metric)
    {
        Number(json, "median", metric.Median);
        Number(json, "low", metric.Low);
        Number(json, "high", metric.High);
        json.WriteNumber("runs", metric.Runs);
        json.WriteString("unit", metric.Unit);
        json.WriteBoolean("isInterval", metric.IsInterval);
        Texts(json, ("bounds", metric.Bounds), ("series", metric.Series), ("settled", metric.Settled));
        json.WriteBoolean("handKept", metric.HandKept);
        Rank(json, metric.Rank, metric.Unranked);
        Number(json, "minimum", metric.Minimum);
        Number(json, "maximum", metric.Maximum);
        Number(json, "mad", metric.Mad);
        Number(json, "cvPercent", metric.CvPercent);
        Strings(json, "remarks", metric.Remarks);
        Array(json, "byRun", metric.ByRun, r =>
        {
            Texts(json, ("when", r.When), ("board", r.Board));
            Number(json, "median", r.Median);
            Number(json, "low", r.Low);
            Number(json, "high", r.High);
            json.WriteNumber("n", r.N);
            json.WriteBoolean("isInterval", r.IsInterval);
        });
        Array(json, "points", metric.Points, p =>
        {
            Number(json, "value", p.Value);
            Texts(json, ("board", p.Board), ("when", p.When), ("state", Wording.State(p.State)), ("remark", p.Remark));
        });
    }

    private static void Latency(Utf8JsonWriter json, ReportLatency latency)
    {
        json.WriteString("name", latency.Name);
        json.WriteNumber("operations", latency.Operations);
        json.WriteStartObject("ms");
        foreach (LatencyPercentile percentile in latency.Percentiles)
        {
            Number(json, percentile.Name, percentile.Ms);
        }

        Number(json, "max", latency.MaxMs);
        json.WriteEndObject();
        json.WriteNumber("stalls", latency.Stalls);
        Number(json, "stallLimitMs", latency.StallLimitMs);
    }

    private static void Throughput(Utf8JsonWriter json, ReportTimeline timeline)
    {
        Texts(json, ("name", timeline.Name), ("unit", timeline.Unit), ("text", timeline.Text));
        Array(json, "levels", timeline.Levels, l =>
        {
            json.WriteNumber("fromSecond", l.FromSecond);
            json.WriteNumber("toSecond", l.ToSecond);
            Number(json, "mean", l.Mean);
        });
    }

    private static void Capacity(Utf8JsonWriter json, CapacityMap? map)
    {
        if (map is null)
        {
            json.WriteNull("capacity");
            return;
        }

        json.WriteStartObject("capacity");
        Number(json, "claimedGigabytes", map.ClaimedGigabytes);
        json.WriteString("statement", map.Statement);
        Array(json, "segments", map.Segments, s => Texts(json, ("outcome", s.Outcome), ("text", s.Text)));
        if (map.Proof is { } proof)
        {
            json.WriteStartObject("proof");
            Proof(json, proof);
            json.WriteEndObject();
        }

        json.WriteEndObject();
    }

    private static void Proof(Utf8JsonWriter json, ProofMeasured proof)
    {
        Texts(json, ("method", JsonNamingPolicy.CamelCase.ConvertName(proof.Kind.ToString())), ("kind", ProofFindings.Kind(proof)));
        json.WriteBoolean("complete", proof.Complete);
        json.WriteNumber("claimedBytes", proof.ClaimedBytes);
        ProofJudgement judgement = ProofJudgement.Of(proof);
        Count(json, "trueBytes", judgement.TrueBytes);
        json.WriteNumber("keepsAtLeastBytes", judgement.KeepsAtLeastBytes);
        json.WriteNumber("blocksWritten", proof.BlocksWritten);
        json.WriteNumber("blocksRead", proof.BlocksRead);
        json.WriteNumber("lostBlocks", proof.Counts.Lost);
        if (proof.LostFractionBelow is { } fraction)
        {
            json.WriteNumber("lostFractionBelow", fraction);
        }
        else
        {
            json.WriteNull("lostFractionBelow");
        }

        json.WriteString("assumption", proof.LostFractionBelow is null ? null : ProofFindings.Assumption(proof));
        json.WriteNumber("notJudgedBlocks", proof.Counts.NotJudged);

        Count(json, "linkErrors", proof.LinkErrors);
        Array(json, "ranges", proof.Ranges, r =>
        {
            json.WriteNumber("startBytes", r.StartBytes);
            json.WriteNumber("endBytes", r.EndBytes);
            json.WriteString("state", JsonNamingPolicy.CamelCase.ConvertName(r.State.ToString()));
        });
    }

    private static void Run(Utf8JsonWriter json, ReportRun run)
    {
        Texts(
            json, ("when", run.When), ("board", run.Board), ("plan", run.Plan), ("target", run.Target), ("outcome", run.Outcome), ("trials", run.Trials),
            ("bus", run.Bus), ("governor", run.Governor), ("temperature", run.Temperature), ("flags", run.Flags));
        Number(json, "writtenGigabytes", run.WrittenGigabytes);
    }

    private static void Product(Utf8JsonWriter json, ReportProduct product)
    {
        Texts(json, ("name", product.Name), ("specimens", product.Specimens));
        Rank(json, product.Rank, "");
        Texts(
            json, ("randomRead", product.RandomRead), ("randomWrite", product.RandomWrite), ("verdicts", product.Verdicts), ("tags", product.Tags));
    }

    private static void Price(Utf8JsonWriter json, PriceSection? price)
    {
        if (price is null)
        {
            json.WriteNull("price");
            return;
        }

        json.WriteStartObject("price");
        Texts(json, ("currency", price.Currency), ("remark", price.Remark));
        Array(json, "points", price.Points, p =>
        {
            Texts(json, ("card", p.Card), ("product", p.Product));
            Number(json, "price", p.Price);
            Number(json, "perGigabyte", p.PerGigabyte);
            json.WriteString("priceDate", p.PriceDate);
            Composite(json, p.Composite);
            json.WriteBoolean("onFront", p.OnFront);
            json.WriteString("beatenBy", p.BeatenBy);
        });
        json.WriteEndObject();
    }

    private static void Table(Utf8JsonWriter json, ReportTable table)
    {
        Texts(json, ("id", table.Id), ("title", table.Title), ("intro", table.Intro));
        Strings(json, "columns", [.. table.Columns.Select(c => c.Name)]);
        json.WriteStartArray("rows");
        foreach (IReadOnlyList<string> row in table.Rows)
        {
            json.WriteStartArray();
            foreach (string cell in row)
            {
                json.WriteStringValue(cell);
            }

            json.WriteEndArray();
        }

        json.WriteEndArray();
    }

    private static void Number(Utf8JsonWriter json, string key, Figure? figure)
    {
        json.WritePropertyName(key);
        if (figure is null)
        {
            json.WriteNullValue();
        }
        else
        {
            json.WriteRawValue(figure.Text);
        }
    }

    private static void WholeOrNull(Utf8JsonWriter json, string key, int? value)
    {
        if (value is int number)
        {
            json.WriteNumber(key, number);
        }
        else
        {
            json.WriteNull(key);
        }
    }

    private static void Texts(Utf8JsonWriter json, params ReadOnlySpan<(string Key, string Value)> texts)
    {
        foreach ((string key, string value) in texts)
        {
            json.WriteString(key, value);
        }
    }

    /// <summary>Writes "firstPage", here and where the first page goes alone.</summary>
    internal static void FirstPage(Utf8JsonWriter json, IReadOnlyList<FirstPagePart> parts) => Array(json, "firstPage", parts, part =>
    {
        json.WriteString("key", part.Key);
        json.WriteString("label", part.Label);
        Strings(json, "lines", part.Lines);
    });

    private static void Strings(Utf8JsonWriter json, string key, IReadOnlyList<string> values)
    {
        json.WriteStartArray(key);
        foreach (string value in values)
        {
            json.WriteStringValue(value);
        }

        json.WriteEndArray();
    }

    private static void Array<T>(Utf8JsonWriter json, string key, IReadOnlyList<T> items, Action<T> write)
    {
        foreach (Utf8JsonWriter _ in Elements(json, key, items, write))
        {
            // It fits into what may wait.
        }
    }

    /// <summary>An array of objects; after each the writer may be emptied.</summary>
    private static IEnumerable<Utf8JsonWriter> Elements<T>(Utf8JsonWriter json, string key, IReadOnlyList<T> items, Action<T> write)
    {
        json.WriteStartArray(key);
        foreach (T item in items)
        {
            json.WriteStartObject();
            write(item);
            json.WriteEndObject();
            yield return json;
        }

        json.WriteEndArray();
    }

    /// <summary>Every letter as it is; what is no text for people (see <see cref="PlainText"/>) as an escape, so that a program gets it and a person does not.</summary>
    private static JavaScriptEncoder Escaping()
    {
        var settings = new TextEncoderSettings(UnicodeRanges.All);
        settings.ForbidCharacters([.. Enumerable.Range(0, 0x10000).Select(c => (char)c).Where(c => !char.IsSurrogate(c) && PlainText.IsUnsafe(new Rune(c)))]);
        return JavaScriptEncoder.Create(settings);
    }
}
