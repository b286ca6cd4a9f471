using System.Globalization;
using System.IO.Compression;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Exchange.Publishing.Picture;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Tests.Exchange;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Report;

/// <summary>
/// Every control and format character of Unicode in tags, claims, board names, plans, reasons and file names: none reaches an output as it is. What is
/// looked for is told by category here, not by the function that cleans.
/// </summary>
public sealed class EveryCharacterTests
{
    /// <summary>Between the visible ends stand all characters of the categories Cc, Cf, Zl and Zp; 240 or so.</summary>
    private static readonly string All = "A" + string.Concat(HiddenCharacters.All) + "Z";

    private static readonly IReadOnlyList<V1.IntakeEntry> Entries = Poisoned();

    public static TheoryData<string> Renderings => [.. Outputs.Keys.Order()];

    [Theory]
    [MemberData(nameof(Renderings))]
    public void Output_OfRecordsFullOfThem_ShowsNone(string rendering)
    {
        string text = Outputs[rendering]();
        Assert.True(text.Length > 200 && text.Contains('A', StringComparison.Ordinal), text.Length.ToString(CultureInfo.InvariantCulture));
        string breaks = rendering is "csv" or "export csv" ? "\r\n" : "\n";
        IReadOnlyList<Rune> shown = HiddenCharacters.In(text, breaks);
        Assert.True(shown.Count == 0, $"{rendering} shows {string.Join(", ", shown.Select(r => $"U+{r.Value:X4}"))}");
    }

    [Fact]
    public void Json_IsReadAsItWas()
    {
        using JsonDocument report = JsonDocument.Parse(Outputs["json"]());
        Assert.Contains(report.RootElement.GetProperty("cards").EnumerateArray(), c => c.GetProperty("tag").GetString() == All);
        using JsonDocument export = JsonDocument.Parse(Outputs["export json"]());
        Assert.Contains(export.RootElement.GetProperty("figures").EnumerateArray(), f => f.GetProperty("tag").GetString() == All);
        PublishedEntry entry = RecordLines.Read(Outputs["records"]().Split('\n').First(l => l.Contains("runOpened", StringComparison.Ordinal) && l.Contains("\\u202e", StringComparison.OrdinalIgnoreCase)));
        Assert.Equal(All, V1.Observation.Parser.ParseFrom(entry.Entry.Delivered.Record.Payload).RunOpened.Tag);
    }

    [Fact]
    public void Zip_OfThem_IsVerified()
    {
        Evidence evidence = new Publisher(ReportDesk.Model).Make(Entries, new PublicationOptions(), null);
        using var zip = new MemoryStream();
        EvidenceZip.Write(evidence, zip);
        Assert.Empty(new Publisher(ReportDesk.Model).Check(EvidenceZip.Read(zip, "x.zip")).Differences);
    }

    private static Dictionary<string, Func<string>> Outputs { get; } = new()
    {
        ["html"] = () => HtmlReport.Render(EscapingTests.Poisoned(All)),
        ["terminal"] = () => TerminalReport.Render(EscapingTests.Poisoned(All)),
        ["first page"] = () => FirstPageText.Render(WithFirst(EscapingTests.Poisoned(All))),
        ["mail of the morning"] = () => Mail(MorningMaker.From(WithFirst(EscapingTests.Poisoned(All)), "2031-03-13")),
        ["card page"] = () => TerminalCards.Render(
            EscapingTests.Poisoned(All), [.. EscapingTests.Poisoned(All).Cards.Take(2)], [new CardComparison(All, All, All, [new ComparedFigure(All, Figure.Of(1, 1), null, null)])]),
        ["letter"] = () => Letter(markdown: false),
        ["letter as markdown"] = () => Letter(markdown: true),
        ["markdown"] = () => MarkdownReport.Render(EscapingTests.Poisoned(All)),
        ["csv"] = () => CsvReport.Render(EscapingTests.Poisoned(All)),
        ["json of the model"] = () => JsonReport.Render(EscapingTests.Poisoned(All)),
        ["html of records"] = () => HtmlReport.Render(Model()),
        ["terminal of records"] = () => TerminalReport.Render(Model()),
        ["markdown of records"] = () => MarkdownReport.Render(Model()),
        ["json"] = () => JsonReport.Render(Model()),
        ["published markdown"] = () => Published().Markdown,
        ["published html"] = () => Published().Html,
        ["ranking picture"] = () => Written(to =>
        {
            (IReadOnlyList<Shape> shapes, string words) = RankingPicture.Of(WithFirst(EscapingTests.Poisoned(All)), new PublicationOptions { Prices = true });
            PictureFile.Write("x.svg", shapes, words, to);
        }),
        ["records"] = () => string.Join('\n', Published().Entries.Select(RecordLines.Write)),
        ["zip"] = ZipText,
        ["export csv"] = () => Written(to =>
        {
            foreach (ExportTable table in ExportTable.All(Data()))
            {
                ExportCsv.Write(to, table);
            }
        }),
        ["export json"] = () => Written(to => ExportJson.Write(to, default, ExportTable.All(Data()))),
        ["message as json"] = () => MessageJson.Render(new V1.HandKept { ImportId = new string('-', 200), Source = All }),
        ["live page"] = () => LiveHtml.Document(new LiveState
        {
            Boards = [new LiveBoard(All, All, true, All, All, 41, All, All, [All], All, All)],
            Integrity = All, NeedsPerson = [All], Findings = [new LiveFinding(All, All, All, All)], AllFindings = 30, Nights = [new LiveNight("2031-03-12", All, 1, 1, 1)],
            Proofs = [new LiveProof(All, All, All)], AllProofs = 30,
        }),
    };

    private static ReportModel WithFirst(ReportModel model) => model with { First = FirstPageBuilder.Build(model) };

    private static string Mail(MorningReport report)
    {
        var mail = new MimeKit.MimeMessage { Body = MorningMail.Body(report, ["/" + All]) };
        return (mail.TextBody + mail.HtmlBody).ReplaceLineEndings("\n");
    }

    private static string Letter(bool markdown)
    {
        ReportModel model = EscapingTests.Poisoned(All);
        ReportFinding finding = new("capacity-proof", "contradiction", All, [new Cardassay.Identity.FindingValue(All, All)], All, All);
        return ReturnLetter.Render(
            model with
            {
                Cards = [.. model.Cards.Select(c => c with
                {
                    VerdictKind = Cardassay.Identity.VerdictKind.NotAsClaimed, Findings = [finding], Offer = new Offer(1, All, 3, null, All), Product = All,
                })],
            },
            All, markdown)!;
    }

    private static List<V1.IntakeEntry> Poisoned()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries(cards: 3);
        foreach (V1.IntakeEntry entry in entries)
        {
            if (entry.Delivered is { } delivered)
            {
                delivered.Board = delivered.Board == "gull-rock" ? "gull-rock" + All : delivered.Board;
                V1.Observation observation = V1.Observation.Parser.ParseFrom(delivered.Record.Payload);
                if (observation.RunOpened is { } opened)
                {
                    opened.Tag = opened.Tag == "T-01" ? All : opened.Tag;
                    (opened.PlanName, opened.PlanVersion, opened.AgentVersion, opened.FileSystem) = (All, All, All, All);
                    opened.PlanText = "{\"name\":" + JsonSerializer.Serialize(All) + "}";
                }
                else if (observation.TrialMeasured is { Reasons.Count: > 0 } trial)
                {
                    trial.Reasons.Add(All);
                }
                else if (observation.RunClosed is { } closed)
                {
                    closed.Reason = All;
                }

                delivered.Record.Payload = observation.ToByteString();
            }
            else if (entry.OperatorEvent?.Claim is { } claim)
            {
                claim.Tag = claim.Tag == "T-01" ? All : claim.Tag;
                (claim.Maker, claim.Product, claim.BoughtAt) = (All, All, All);
                claim.Marks.Add(All);
            }
            else if (entry.OperatorEvent?.HandKept is { } kept)
            {
                kept.Source = All;
                foreach (V1.HandKeptFigure figure in kept.Figures)
                {
                    figure.AsWritten = All;
                }
            }
        }

        return [.. entries.Where(e => e.Delivered is not null).OrderBy(e => Convert.ToHexString(e.Delivered.Record.Epoch.Span), StringComparer.Ordinal).ThenBy(e => e.Delivered.Record.Sequence), .. entries.Where(e => e.Delivered is null)];
    }

    private static MasterData Data()
    {
        using MemoryRecordStore store = EntryStore.Of(Entries);
        return MasterDataLoader.Load(store);
    }

    private static ReportModel Model() => ReportDesk.Model(Data(), UseProfile.SystemDisk);

    private static Evidence Published() => new Publisher(ReportDesk.Model).Make(Entries, new PublicationOptions(), null);

    private static string ZipText()
    {
        using var zip = new MemoryStream();
        EvidenceZip.Write(Published(), zip);
        using var archive = new ZipArchive(zip, ZipArchiveMode.Read);
        return string.Join('\n', archive.Entries.Select(e =>
        {
            using var reader = new StreamReader(e.Open());
            return reader.ReadToEnd().Replace("\r\n", "\n", StringComparison.Ordinal); // figures.csv
        }));
    }

    private static string Written(Action<Stream> write)
    {
        using var text = new MemoryStream();
        write(text);
        return Encoding.UTF8.GetString(text.ToArray());
    }
}
