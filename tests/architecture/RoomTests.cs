namespace Cardassay.Architecture.Tests;

public sealed class RoomTests
{
    [Theory]
    [InlineData(RoomRules.SharedCore, "")]
    [InlineData(RoomRules.Proto, RoomRules.SharedCore)]
    [InlineData(RoomRules.Agent, RoomRules.SharedCore + " " + RoomRules.Proto)]
    [InlineData(RoomRules.Collector, RoomRules.SharedCore + " " + RoomRules.Proto)]
    public void Assembly_ReferencesOnlyTheRoomsBelowIt(string assembly, string allowed)
    {
        IEnumerable<string> ours = RoomRules.ReferencesOf(assembly)
            .Where(r => r.StartsWith("Cardassay", StringComparison.OrdinalIgnoreCase));
        Assert.Empty(ours.Except(allowed.Split(' ')));
    }

    [Fact]
    public void SharedCore_KnowsNoTransportNoDatabaseNoConsoleNoClock()
    {
        Assert.Empty(RoomRules.ReferencesOf(RoomRules.SharedCore).Where(r =>
            r.StartsWith("Grpc", StringComparison.Ordinal) || r.StartsWith("Google", StringComparison.Ordinal)
            || r is "LiteDB" or "Npgsql" or "System.Console" or "Serilog" or "Spectre.Console"));
        Assert.Empty(RoomRules.Uses(RoomRules.SharedCore).Where(u => u.Used is "System.Console" or "System.Diagnostics.Stopwatch"));
    }

    [Theory]
    [InlineData(RoomRules.Agent, "Delivery Commands")]
    [InlineData(RoomRules.Collector, "Intake Boards Commands Exchange")]
    public void GeneratedMessages_AppearOnlyInTheRoomsThatTalk(string assembly, string rooms)
    {
        Assert.Empty(UsersOutside(assembly, rooms, used => used.StartsWith("Cardassay.V1.", StringComparison.Ordinal)));
        Assert.NotEmpty(RoomRules.Uses(assembly).Where(u => u.Used.StartsWith("Cardassay.V1.", StringComparison.Ordinal)));
    }

    [Fact]
    public void Databases_AreKnownOnlyToStorage()
    {
        static bool IsDatabase(string used) =>
            used.StartsWith("LiteDB.", StringComparison.Ordinal) || used.StartsWith("Npgsql.", StringComparison.Ordinal);
        Assert.Empty(UsersOutside(RoomRules.Collector, "Storage", IsDatabase));
        Assert.NotEmpty(RoomRules.Uses(RoomRules.Collector).Where(u => IsDatabase(u.Used)));
        Assert.DoesNotContain("LiteDB", RoomRules.ReferencesOf(RoomRules.Agent));
    }

    [Theory]
    [InlineData("MailKit.", "Notices")]
    [InlineData("MimeKit.", "Notices")]
    [InlineData("Parquet.", "Exchange")]
    [InlineData("System.Net.Http.HttpClient", "Notices")]
    public void LibrariesOfOneRoom_AreKnownOnlyToIt(string library, string room)
    {
        Assert.Empty(UsersOutside(RoomRules.Collector, room, used => used.StartsWith(library, StringComparison.Ordinal)));
        Assert.NotEmpty(RoomRules.Uses(RoomRules.Collector).Where(u => u.Used.StartsWith(library, StringComparison.Ordinal)));
    }

    [Fact]
    public void NativeCalls_AreMadeOnlyFromBlockIoAndOneJournalFile()
    {
        Assert.All(RoomRules.ImportersOf(RoomRules.Agent), type => Assert.StartsWith("Cardassay.Agent.BlockIo.", type, StringComparison.Ordinal));
        Assert.NotEmpty(RoomRules.ImportersOf(RoomRules.Agent));
        Assert.Single(RoomRules.ImportersOf(RoomRules.SharedCore), type => type.StartsWith("Cardassay.Journal.", StringComparison.Ordinal));
        Assert.Single(RoomRules.ImportersOf(RoomRules.SharedCore));
        Assert.Empty(RoomRules.ImportersOf(RoomRules.Collector));
        Assert.Empty(RoomRules.ImportersOf(RoomRules.Proto));
    }

    [Theory]
    [InlineData(RoomRules.Collector, "Cardassay.Collector.Analysis.")]
    [InlineData(RoomRules.SharedCore, "Cardassay.Identity.")]
    public void PureRooms_TouchNoFileNoClockNoThreadNoConsole(string assembly, string room)
    {
        string[] banned =
        [
            "System.IO.File", "System.IO.FileInfo", "System.IO.FileStream", "System.IO.Directory", "System.Console", "System.TimeProvider",
            "System.Threading.Thread", "System.Threading.Tasks.Task", "System.Diagnostics.Stopwatch", "System.Net.Http.HttpClient",
        ];
        Assert.Empty(RoomRules.Uses(assembly)
            .Where(u => u.User.StartsWith(room, StringComparison.Ordinal) && banned.Contains(u.Used)).Distinct());
        Assert.NotEmpty(RoomRules.Uses(assembly).Where(u => u.User.StartsWith(room, StringComparison.Ordinal)));
    }

    /// <summary>Who shares work out says so here: what is made at once must come out as if it were made one after the other.</summary>
    [Fact]
    public void WorkIsSharedOut_OnlyByAnalysisAndTheReportsBuilder()
    {
        static bool IsParallel(string used) => used is "System.Threading.Tasks.Parallel" or "System.Linq.ParallelEnumerable";
        Assert.Empty(UsersOutside(RoomRules.Collector, "Analysis", IsParallel).Except(
            ["Cardassay.Collector.Report.ReportBuilder uses System.Threading.Tasks.Parallel"]));
        Assert.NotEmpty(RoomRules.Uses(RoomRules.Collector).Where(u => IsParallel(u.Used)));
        Assert.Empty(RoomRules.Uses(RoomRules.Agent).Concat(RoomRules.Uses(RoomRules.SharedCore)).Where(u => IsParallel(u.Used)));
    }

    [Fact]
    public void Agent_HoldsNoVerdicts()
    {
        // Judging is shared code; on the board only the preview of `identify` may call it.
        Assert.Empty(UsersOutside(RoomRules.Agent, "Commands", used =>
            used is "Cardassay.Identity.Verdict" or "Cardassay.Identity.VerdictKind" or "Cardassay.Identity.CardJudge"));
    }

    private static IEnumerable<string> UsersOutside(string assembly, string rooms, Func<string, bool> isForbidden)
    {
        string root = assembly == RoomRules.Agent ? "Cardassay.Agent." : "Cardassay.Collector.";
        string[] allowed = [.. rooms.Split(' ').Select(room => root + room + ".")];
        return RoomRules.Uses(assembly)
            .Where(u => isForbidden(u.Used) && !allowed.Any(a => u.User.StartsWith(a, StringComparison.Ordinal)))
            .Select(u => $"{u.User} uses {u.Used}")
            .Distinct();
    }
}
