using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Commands;

public sealed class FinishedDutiesTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("cardassay-duties-");

    private AgentFolder Folder => new(_directory.FullName);

    [Fact]
    public void FinishedRun_OutlivesARestartUntilTheCollectorHasIt()
    {
        new FinishedDuties(Folder).Add(new V1.FinishedDuty { ScheduleId = "s1", RunNumber = 2, Ok = true, Text = "completed" });
        var again = new FinishedDuties(Folder);
        Assert.Equal("completed", Assert.Single(again.Open).Text);
        again.Acknowledge(["s1/1", "s2/2"]);
        Assert.Single(new FinishedDuties(Folder).Open);
        again.Acknowledge(["s1/2"]);
        Assert.Empty(new FinishedDuties(Folder).Open);
    }

    [Fact]
    public void DamagedFile_OfAnyLength_IsNoReasonNotToStart()
    {
        var duties = new FinishedDuties(Folder);
        duties.Add(new V1.FinishedDuty { ScheduleId = "schedule-1", RunNumber = 2, Text = "completed", Seconds = 12.5 });
        byte[] whole = File.ReadAllBytes(Folder.FinishedDuties);
        var random = new Random(5);
        for (int length = 0; length <= whole.Length; length++)
        {
            byte[] damaged = whole[..length];
            if (length > 0)
            {
                damaged[random.Next(length)] ^= (byte)random.Next(1, 256);
            }

            File.WriteAllBytes(Folder.FinishedDuties, damaged);
            Assert.InRange(new FinishedDuties(Folder).Open.Count, 0, 1);
        }
    }

    [Fact]
    public void CutRun_IsClosedAsInterruptedAndReportedForItsDutyAndStep()
    {
        var run = new RunId(Guid.NewGuid());
        OpenRunMark.Set(Folder, run, "abc123/4", null, null).At("randomWrite", CardHistory.None);
        using (ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid()))
        {
            InterruptedRun cut = Assert.Single(OpenRunMark.CloseInterrupted(Folder, journal));
            var duties = new FinishedDuties(Folder);
            duties.AddInterrupted([cut]);
            OpenRunMark.Forget(Folder);
            Assert.Empty(OpenRunMark.CloseInterrupted(Folder, journal));
            Assert.Equal(1, journal.Backlog);
        }

        V1.FinishedDuty told = Assert.Single(new FinishedDuties(Folder).Open);
        Assert.Equal(("abc123", 4u, false, (uint)RunOutcome.Interrupted, "randomWrite"), (told.ScheduleId, told.RunNumber, told.Ok, told.Outcome, told.Step));
        Assert.Equal(run, RunId.FromBytes(told.RunId.Span));
    }

    [Fact]
    public void CutRun_StartedByHand_IsNobodysDuty()
    {
        OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, "sd-1", "T-01").At("randomRead", CardHistory.None);
        using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
        var duties = new FinishedDuties(Folder);
        duties.AddInterrupted(OpenRunMark.CloseInterrupted(Folder, journal));
        Assert.Empty(duties.Open);
    }

    [Theory]
    [InlineData("T-01")]
    [InlineData(null)]
    [InlineData("two\nlines")]
    public void CutRun_WhatItHadWritten_CountsOnTheCardOnceAndInTheNightItWasWritten(string? tag)
    {
        // A card that was written for hours and then cut off is not a new one, and its night's budget is spent.
        OpenRunMark mark = OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, "sd-1", tag);
        mark.At("randomWrite", new CardHistory(3_000, 200, FilledPieces.Of([true, true])));
        File.SetLastWriteTimeUtc(Folder.OpenRun, new DateTime(2031, 3, 14, 2, 0, 0, DateTimeKind.Utc));
        var odometer = new WearOdometer(new RealLogDisk(Directory.CreateDirectory(Folder.Odometer).FullName));
        CardHistory Seen(string identity) => OpenRunMark.With(odometer.HistoryOf(identity, tag), Folder, identity, tag);
        Assert.Equal((3_000L, 3_000L, 0L), (Seen("sd-1").WrittenBytes, Seen("sd-1").WrittenIn(new(2031, 3, 13)), Seen("sd-2").WrittenBytes)); // before anything is closed
        for (int start = 0; start < 2; start++) // the power goes again before the mark is away
        {
            using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
            Assert.Single(OpenRunMark.CloseInterrupted(Folder, journal));
        }

        OpenRunMark.Forget(Folder);
        CardHistory history = odometer.HistoryOf("sd-1", tag);
        Assert.Equal((3_000L, 200L, "0-1"), (history.WrittenBytes, history.SinceWholeBytes, history.Filled.ToString()));
        Assert.Equal((3_000L, 0L), (history.WrittenIn(new(2031, 3, 13)), history.WrittenIn(new(2031, 3, 14))));
    }

    [Fact]
    public void Mark_DamagedAtAnyLength_IsNoReasonNotToStart()
    {
        OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), "abc123/4", "sd-1", "T-01").At("randomWrite", new CardHistory(3_000, null, FilledPieces.Of([true])));
        byte[] whole = File.ReadAllBytes(Folder.OpenRun);
        var random = new Random(5);
        using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
        for (int length = 0; length <= whole.Length; length++)
        {
            byte[] damaged = whole[..length];
            if (length > 0)
            {
                damaged[random.Next(length)] ^= (byte)random.Next(1, 256);
            }

            File.WriteAllBytes(Folder.OpenRun, damaged);
            _ = OpenRunMark.CloseInterrupted(Folder, journal);
        }

        _ = OpenRunMark.With(CardHistory.None, Folder, "sd-1", "T-01");
        Assert.InRange(new WearOdometer(new RealLogDisk(Folder.Odometer)).HistoryOf("sd-1", "T-01").WrittenBytes, 0, whole.Length * 9_999L);
    }

    [Fact]
    public void Mark_OfTwoRunsAtOnce_ClosesBothAndEachCountsOnItsCard()
    {
        RunId first = new(Guid.NewGuid());
        RunId second = new(Guid.NewGuid());
        OpenRunMark.Set(Folder, first, "abc/1", "sd-1", "T-01").At("randomWrite", new CardHistory(3_000, null, FilledPieces.None));
        OpenRunMark beside = OpenRunMark.Set(Folder, second, "def/1", "sd-2", "T-02", lane: 1);
        beside.At("randomRead", new CardHistory(5_000, null, FilledPieces.None));
        Assert.Equal(5_000, OpenRunMark.With(CardHistory.None, Folder, "sd-2", "T-02").WrittenBytes);
        using (ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid()))
        {
            IReadOnlyList<InterruptedRun> cut = OpenRunMark.CloseInterrupted(Folder, journal);
            Assert.Equal([(first, "abc/1", "randomWrite"), (second, "def/1", "randomRead")], cut.Select(c => (c.RunId, c.Duty, c.Step)));
            var duties = new FinishedDuties(Folder);
            duties.AddInterrupted(cut);
            Assert.Equal(["abc", "def"], duties.Open.Select(f => f.ScheduleId));
            OpenRunMark.Forget(Folder);
            Assert.Empty(OpenRunMark.CloseInterrupted(Folder, journal));
        }

        var odometer = new WearOdometer(new RealLogDisk(Folder.Odometer));
        Assert.Equal((3_000, 5_000), (odometer.HistoryOf("sd-1", "T-01").WrittenBytes, odometer.HistoryOf("sd-2", "T-02").WrittenBytes));
    }

    [Fact]
    public void Mark_OfOneOfTwoIsCleared_TheOtherStays()
    {
        OpenRunMark first = OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, null, null);
        OpenRunMark beside = OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, null, null, lane: 1);
        first.Clear();
        Assert.Equal((false, true), (File.Exists(Folder.OpenRun), File.Exists(Folder.OpenRunIn(1))));
        beside.Clear();
        Assert.False(File.Exists(Folder.OpenRunIn(1)));
    }

    [Fact]
    public void Mark_OfARunThatComesBackLate_LeavesTheNextOnesAlone()
    {
        OpenRunMark late = OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, null, null);
        OpenRunMark next = OpenRunMark.Set(Folder, new RunId(Guid.NewGuid()), null, null, null);
        late.Clear();
        Assert.True(File.Exists(Folder.OpenRun));
        next.Clear();
        Assert.False(File.Exists(Folder.OpenRun));
    }

    public void Dispose() => _directory.Delete(recursive: true);
}
