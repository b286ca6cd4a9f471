namespace Cardassay.Collector.Hosting;

/// <summary>
/// The number of each log event. A number keeps its meaning for good: a new event takes a new number, a retired one is not used
/// again. README.md beside this file is the table a person reads; a test compares the two.
/// </summary>
internal static class EventNumbers
{
    // 2000 to 2099: delivery streams of boards.
    internal const int BoardGreeted = 2001;
    internal const int BoardLeft = 2002;
    internal const int VersionRefused = 2003;
    internal const int AskedAgain = 2004;
    internal const int ProtocolBroken = 2005;
    internal const int IntakeDiskFull = 2006;
    internal const int StoreUnavailable = 2007;
    internal const int BoardSilent = 2008;
    internal const int ClockApart = 2009;
    internal const int JournalCloned = 2010;
    internal const int JournalRolledBack = 2011;
    internal const int RecordsMissing = 2012;
    internal const int ContentsConflict = 2013;
    internal const int BoardShutOut = 2014;
    internal const int JournalMoved = 2015;

    // 2100 to 2199: the store.
    internal const int StoreRemade = 2101;
    internal const int StoreFailed = 2102;
    internal const int StoreAway = 2103;
    internal const int StoreBack = 2104;
    internal const int EntryUnreadable = 2105;
    internal const int StoreNotClosed = 2106;
    internal const int RunsNotKept = 2107;

    // 2200 to 2299: the process and its intake log.
    internal const int IntakeSyncFailed = 2201;
    internal const int Started = 2202;
    internal const int Stopped = 2203;
    internal const int TailCut = 2204;
    internal const int SegmentSetAside = 2205;
    internal const int IntakeEntriesLost = 2206;
    internal const int LinesHeldBack = 2207;
    internal const int CallFailed = 2208;
    internal const int IntakeMoved = 2209;

    // 2300 to 2309: the live page.
    internal const int PageUnread = 2301;

    // 2310 to 2399: who is let in.
    internal const int Refused = 2311;
    internal const int RefusalsNotWritten = 2312;
    internal const int BoardJoined = 2313;
    internal const int CertificateRenewed = 2314;
    internal const int BoardInvited = 2315;
    internal const int BoardRevoked = 2316;
    internal const int MessageUnreadable = 2317;
    internal const int DoorFull = 2318;
    internal const int DoorHasRoom = 2319;
    internal const int DoorNotRecorded = 2320;
    internal const int BoardRenamed = 2321;
    internal const int ReaderInvited = 2322;
    internal const int ReaderRevoked = 2323;

    // 2400 to 2499: backups.
    internal const int BackupMade = 2401;
    internal const int BackupFailed = 2402;

    // 2500 to 2599: messages to a person.
    internal const int NoticeLater = 2501;
    internal const int NoticeGivenUp = 2502;
    internal const int NoticesNotKept = 2503;
    internal const int NoticeLookFailed = 2504;
    internal const int MorningMade = 2505;
}
